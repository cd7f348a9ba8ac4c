//! Where the scalars of a JSON text stand, also of one that was cut.

use std::ops::Range;

/// Is a string or a number in a text, with where it belongs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Scalar {
    /// The member it is of, or the one that the list is of that it is in.
    pub(super) name: String,
    /// Its place (RFC 6901).
    pub(super) pointer: String,
    /// Where it stands, without quotes.
    pub(super) span: Range<usize>,
    pub(super) is_string: bool,
}

enum Level {
    Object(Option<String>),
    Array(usize),
}

/// Finds the scalars of the first JSON value in a text. What is before it, as `data: ` of an event, is
/// passed over; what is no JSON gives what could be read.
pub(super) fn scalars(text: &str) -> Vec<Scalar> {
    let Some(start) = text.find(['{', '[']) else {
        return Vec::new();
    };
    let bytes = text.as_bytes();
    let mut scalars = Vec::new();
    let mut levels: Vec<Level> = Vec::new();
    let mut at = start;
    while at < bytes.len() {
        match bytes[at] {
            b'{' => levels.push(Level::Object(None)),
            b'[' => levels.push(Level::Array(0)),
            b'}' | b']' => {
                levels.pop();
                if levels.is_empty() {
                    break;
                }
            }
            b',' => match levels.last_mut() {
                Some(Level::Array(index)) => *index += 1,
                Some(Level::Object(name)) => *name = None,
                None => {}
            },
            b'"' => {
                let end = end_of_string(bytes, at + 1);
                let span = at + 1..end;
                at = end;
                match levels.last_mut() {
                    Some(Level::Object(name @ None)) => *name = Some(unescaped(&text[span])),
                    _ => scalars.push(scalar(&levels, span, true)),
                }
            }
            byte if byte == b'-' || byte.is_ascii_digit() => {
                let is_part = |byte: &u8| byte.is_ascii_digit() || b"+-.eE".contains(byte);
                let length = bytes[at..].iter().take_while(|byte| is_part(byte)).count();
                scalars.push(scalar(&levels, at..at + length, false));
                at += length - 1;
            }
            _ => {}
        }
        at += 1;
    }
    scalars
}

fn end_of_string(bytes: &[u8], mut at: usize) -> usize {
    while at < bytes.len() {
        match bytes[at] {
            b'"' => return at,
            b'\\' => at += 2,
            _ => at += 1,
        }
    }
    bytes.len()
}

fn unescaped(inner: &str) -> String {
    serde_json::from_str(&format!("\"{inner}\"")).unwrap_or_else(|_| inner.to_owned())
}

fn scalar(levels: &[Level], span: Range<usize>, is_string: bool) -> Scalar {
    let mut pointer = String::new();
    let mut name = String::new();
    for level in levels {
        pointer.push('/');
        match level {
            Level::Object(member) => {
                name = member.clone().unwrap_or_default();
                pointer.push_str(&name.replace('~', "~0").replace('/', "~1"));
            }
            Level::Array(index) => pointer.push_str(&index.to_string()),
        }
    }
    Scalar {
        name,
        pointer,
        span,
        is_string,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(text: &str) -> Vec<(String, &str)> {
        scalars(text)
            .into_iter()
            .map(|scalar| (scalar.pointer, &text[scalar.span]))
            .collect()
    }

    #[test]
    fn scalars_are_found_with_their_pointers() {
        let text = r#"data: {"a": [1, {"b/c": "x\"y"}], "d": -2.5e3, "e": null}"#;
        let expected = [("/a/0", "1"), ("/a/1/b~1c", "x\\\"y"), ("/d", "-2.5e3")];
        assert_eq!(
            found(text),
            expected.map(|(place, value)| (place.to_owned(), value))
        );
    }

    #[test]
    fn a_text_that_was_cut_is_read_up_to_there() {
        assert_eq!(found(r#"{"token": "abcd"#), [("/token".to_owned(), "abcd")]);
    }
}
