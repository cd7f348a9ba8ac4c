//! Takes a string of a body apart: plain text, `{{ expressions }}`, `{% directives %}`.

/// Is a string of a body, taken apart but with its expressions still as text.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Text {
    /// No template in it.
    Plain(String),
    /// Exactly one expression: its value keeps its type.
    Typed(String),
    /// Expressions inside other text: the value is a string.
    Mixed(Vec<Segment>),
    /// Exactly one directive.
    Directive(Directive),
}

/// Is a piece of mixed text.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Segment {
    /// Text as it is.
    Plain(String),
    /// The source of an expression.
    Expression(String),
}

/// Is what stands between `{%` and `%}`.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Directive {
    /// `if CONDITION`
    If(String),
    /// `elif CONDITION`
    Elif(String),
    /// `else`
    Else,
    /// `for NAME in LIST` or `for NAME, NAME in LIST`
    For {
        /// One name, or two to take pairs apart.
        names: Vec<String>,
        /// The source of the list.
        list: String,
    },
    /// `with NAME = VALUE`
    With {
        /// The name.
        name: String,
        /// The source of the value.
        value: String,
    },
    /// `include 'PART'`
    Include(String),
}

/// Takes a string apart.
///
/// # Errors
/// What is wrong, in words.
pub(super) fn parse(text: &str) -> Result<Text, String> {
    if text.contains("{%") {
        return match text
            .trim()
            .strip_prefix("{%")
            .and_then(|rest| rest.strip_suffix("%}"))
        {
            Some(inner) if !inner.contains("{%") => directive(inner.trim()).map(Text::Directive),
            _ => Err("a directive must be the whole string".to_owned()),
        };
    }
    let mut segments = Vec::new();
    let mut rest = text;
    while let Some(open) = rest.find("{{") {
        if open > 0 {
            segments.push(Segment::Plain(rest[..open].to_owned()));
        }
        let inner = &rest[open + 2..];
        let length = expression_length(inner).ok_or("`{{` without `}}`")?;
        segments.push(Segment::Expression(inner[..length].trim().to_owned()));
        rest = &inner[length + 2..];
    }
    if !rest.is_empty() {
        segments.push(Segment::Plain(rest.to_owned()));
    }
    Ok(match segments.as_slice() {
        [] => Text::Plain(String::new()),
        [Segment::Plain(text)] => Text::Plain(text.clone()),
        [Segment::Expression(source)] => Text::Typed(source.clone()),
        _ => Text::Mixed(segments),
    })
}

/// Gives the length of an expression up to its `}}`, quotes and inner braces respected.
fn expression_length(inner: &str) -> Option<usize> {
    let mut depth = 0_usize;
    for (index, byte) in unquoted(inner) {
        match byte {
            b'{' => depth += 1,
            b'}' if depth > 0 => depth -= 1,
            b'}' if inner[index..].starts_with("}}") => return Some(index),
            _ => {}
        }
    }
    None
}

/// Tells whether every bracket of an expression is closed by its own kind.
///
/// The template library takes that for granted when it is handed a bare expression: after a `}}` too
/// many it panics.
pub(super) fn brackets_match(expression: &str) -> bool {
    let mut open = Vec::new();
    for (_, byte) in unquoted(expression) {
        let closes = match byte {
            b'(' | b'[' | b'{' => {
                open.push(byte);
                continue;
            }
            b')' => b'(',
            b']' => b'[',
            b'}' => b'{',
            _ => continue,
        };
        if open.pop() != Some(closes) {
            return false;
        }
    }
    open.is_empty()
}

/// Gives the bytes outside quotes with their places. Quotes end at the same quote, unless a
/// backslash stands before it.
fn unquoted(text: &str) -> impl Iterator<Item = (usize, u8)> {
    let mut quote = None;
    let mut escaped = false;
    text.bytes().enumerate().filter(move |(_, byte)| {
        match quote {
            Some(_) if escaped => escaped = false,
            Some(_) if *byte == b'\\' => escaped = true,
            Some(open) if *byte == open => quote = None,
            Some(_) => {}
            None if matches!(byte, b'"' | b'\'') => quote = Some(*byte),
            None => return true,
        }
        false
    })
}

/// Reads what stands between `{%` and `%}`.
fn directive(inner: &str) -> Result<Directive, String> {
    let (word, rest) = inner
        .split_once(char::is_whitespace)
        .map_or((inner, ""), |(word, rest)| (word, rest.trim()));
    match word {
        "if" if !rest.is_empty() => Ok(Directive::If(rest.to_owned())),
        "elif" if !rest.is_empty() => Ok(Directive::Elif(rest.to_owned())),
        "if" | "elif" => Err(format!("`{word}` needs a condition")),
        "else" if rest.is_empty() => Ok(Directive::Else),
        "for" => loop_over(rest),
        "with" => with(rest),
        "include" => include(rest),
        _ => {
            Err("a directive is if, elif, else, for … in …, with … = …, or include '…'".to_owned())
        }
    }
}

fn loop_over(rest: &str) -> Result<Directive, String> {
    let (names, list) = rest
        .split_once(" in ")
        .ok_or("`for` is written `for NAME in LIST`")?;
    let names: Vec<String> = names
        .split(',')
        .map(|name| name.trim().to_owned())
        .collect();
    if names.len() > 2 || !names.iter().all(|name| is_name(name)) {
        return Err("`for` takes one name or two, of letters, digits and `_`".to_owned());
    }
    Ok(Directive::For {
        names,
        list: list.trim().to_owned(),
    })
}

fn with(rest: &str) -> Result<Directive, String> {
    let (name, value) = rest
        .split_once('=')
        .ok_or("`with` is written `with NAME = VALUE`")?;
    if !is_name(name.trim()) {
        return Err("`with` takes one name, of letters, digits and `_`".to_owned());
    }
    Ok(Directive::With {
        name: name.trim().to_owned(),
        value: value.trim().to_owned(),
    })
}

fn include(rest: &str) -> Result<Directive, String> {
    ['\'', '"']
        .into_iter()
        .find_map(|quote| rest.strip_prefix(quote)?.strip_suffix(quote))
        .map(|part| Directive::Include(part.to_owned()))
        .ok_or_else(|| "`include` is written `include 'PART'`".to_owned())
}

/// Tells whether an expression can use the text as a name.
pub(super) fn is_name(text: &str) -> bool {
    text.starts_with(|first: char| first.is_ascii_alphabetic() || first == '_')
        && text
            .chars()
            .all(|letter| letter.is_ascii_alphanumeric() || letter == '_')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lone_expression_keeps_its_type_and_one_in_text_does_not() {
        assert_eq!(parse("{{ a }}"), Ok(Text::Typed("a".to_owned())));
        assert_eq!(
            parse("x {{ a }}"),
            Ok(Text::Mixed(vec![
                Segment::Plain("x ".to_owned()),
                Segment::Expression("a".to_owned())
            ]))
        );
        assert_eq!(parse("plain"), Ok(Text::Plain("plain".to_owned())));
    }

    #[test]
    fn closing_braces_inside_quotes_and_maps_do_not_end_an_expression() {
        assert_eq!(parse("{{ '}}' }}"), Ok(Text::Typed("'}}'".to_owned())));
        assert_eq!(
            parse("{{ {'a': {'b': 1}}.a }}"),
            Ok(Text::Typed("{'a': {'b': 1}}.a".to_owned()))
        );
    }

    #[test]
    fn brackets_match_only_when_each_is_closed_by_its_own_kind() {
        for good in ["a", "f(a[1], {'x': '}'})", "'('", "\"\\\"(\""] {
            assert!(brackets_match(good), "{good}");
        }
        for bad in ["a }} b", "(", "(]", "{)}}x", "a}"] {
            assert!(!brackets_match(bad), "{bad}");
        }
    }

    #[test]
    fn directives_are_read_and_slips_are_named() {
        assert_eq!(
            parse("{% for name, heater in heaters | items %}"),
            Ok(Text::Directive(Directive::For {
                names: vec!["name".to_owned(), "heater".to_owned()],
                list: "heaters | items".to_owned()
            }))
        );
        assert_eq!(
            parse("{% include 'job' %}"),
            Ok(Text::Directive(Directive::Include("job".to_owned())))
        );
        for wrong in [
            "{% if %}",
            "{% for a b %}",
            "{% for a, b, c in d %}",
            "{% with 1 = 2 %}",
            "{% include job %}",
            "{% while x %}",
            "x {% else %}",
            "{% else %} {% else %}",
            "{{ open",
        ] {
            assert!(parse(wrong).is_err(), "{wrong} was taken");
        }
    }
}
