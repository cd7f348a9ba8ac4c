//! What is wrong with a scenario file, and where.

use std::fmt;

/// Says what is wrong with a scenario: file, line, field, value, what is allowed, what was meant.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{place}: {problem}", place = Place(self))]
pub struct ScenarioError {
    /// The file, as it was named by the caller.
    pub file: String,
    /// The line, counted from 1; `None` when the file could not be read at all.
    pub line: Option<usize>,
    /// The dotted path of the field, such as `heaters.extruder.power-watts`; empty when none.
    pub field: String,
    /// The problem, with the value, the allowed range and a hint in brackets.
    pub problem: String,
}

struct Place<'a>(&'a ScenarioError);

impl fmt::Display for Place<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.file)?;
        if let Some(line) = self.0.line {
            write!(f, ":{line}")?;
        }
        if !self.0.field.is_empty() {
            write!(f, ": {}", self.0.field)?;
        }
        Ok(())
    }
}

/// Keeps the texts a scenario was read from, the author's own first, then each the one before
/// includes, so that a place can be told as file and line.
///
/// Places are counted over all texts: each is read with as many line ends before it as all texts
/// before it have bytes, so that the places the TOML reader gives are of this kind by themselves.
#[derive(Debug)]
pub(super) struct Sources {
    texts: Vec<SourceText>,
}

#[derive(Debug)]
struct SourceText {
    name: String,
    start: usize,
    padded: String,
}

impl Sources {
    pub(super) fn new(file: &str, text: &str) -> Self {
        let mut sources = Self { texts: Vec::new() };
        sources.add(file, text);
        sources
    }

    /// Adds the text that the last one includes.
    pub(super) fn add(&mut self, file: &str, text: &str) {
        // One byte apart, so that a place at the very end of a text is not in the next.
        let start = self.texts.last().map_or(0, |last| last.padded.len() + 1);
        // The mark that some editors put first is no text, and not allowed anywhere else.
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        self.texts.push(SourceText {
            name: file.to_owned(),
            start,
            padded: "\n".repeat(start) + text,
        });
    }

    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.texts.iter().map(|text| text.name.as_str())
    }

    pub(super) fn texts(&self) -> impl DoubleEndedIterator<Item = &str> {
        self.texts.iter().map(|text| text.padded.as_str())
    }

    pub(super) fn last_name(&self) -> &str {
        self.texts.last().map_or("", |text| &text.name)
    }

    pub(super) fn last_text(&self) -> &str {
        self.texts.last().map_or("", |text| &text.padded)
    }

    /// Names the author's own file.
    pub(super) fn file(&self) -> &str {
        self.texts.first().map_or("", |text| &text.name)
    }

    /// Names the file that a place is in.
    pub(super) fn file_at(&self, byte: usize) -> &str {
        self.text_at(byte).map_or("", |text| &text.name)
    }

    fn text_at(&self, byte: usize) -> Option<&SourceText> {
        self.texts.iter().rev().find(|text| text.start <= byte)
    }

    pub(super) fn error_at(
        &self,
        byte: Option<usize>,
        field: impl Into<String>,
        problem: impl Into<String>,
    ) -> ScenarioError {
        let place = byte.and_then(|byte| Some((self.text_at(byte)?, byte)));
        let line = place.map(|(text, byte)| {
            let before = &text.padded.as_bytes()[text.start..byte.min(text.padded.len())];
            1 + before.iter().filter(|&&b| b == b'\n').count()
        });
        ScenarioError {
            file: place.map_or(self.file(), |(text, _)| &text.name).to_owned(),
            line,
            field: field.into(),
            problem: problem.into(),
        }
    }

    /// Translates what the TOML reader said, adding what was meant if it is a near miss.
    pub(super) fn error_from_toml(&self, field: &str, error: &toml::de::Error) -> ScenarioError {
        let message = error.message();
        let field = plain_path(field);
        let byte = error.span().map(|span| span.start);
        let (field, problem) = match UnknownWord::read(message) {
            Some(unknown) => {
                let field = if unknown.is_key && !field.ends_with(&unknown.word) {
                    join(&field, &unknown.word)
                } else {
                    field
                };
                (field, unknown.problem())
            }
            None => (field, message.trim().replace('\n', ", ")),
        };
        self.error_at(byte, field, problem)
    }
}

/// Takes out of a path what the reader put in: the marker of a value that knows its place, and the
/// dot that stands for the whole file.
fn plain_path(path: &str) -> String {
    let plain = path.replace(".$__serde_spanned_private_value", "");
    if plain == "." { String::new() } else { plain }
}

/// Joins a field's path and a key in it.
pub(super) fn join(path: &str, key: &str) -> String {
    if path.is_empty() {
        key.to_owned()
    } else {
        format!("{path}.{key}")
    }
}

/// Gives the candidate nearest to what was written, if it is near enough to have been meant.
pub(super) fn near_miss<'a>(word: &str, candidates: &[&'a str]) -> Option<&'a str> {
    candidates
        .iter()
        .map(|candidate| (strsim::jaro_winkler(word, candidate), *candidate))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

/// Says in the words of these files what serde says of an unknown key or word, with what was meant;
/// `None` for other sentences.
pub fn unknown_word(message: &str) -> Option<String> {
    UnknownWord::read(message).map(|unknown| unknown.problem())
}

/// Is serde's own sentence about an unknown key or word, taken apart.
///
/// serde offers no structured form of it through the TOML reader; the test below fails if the
/// sentence ever changes.
struct UnknownWord<'a> {
    is_key: bool,
    word: String,
    allowed: Vec<&'a str>,
}

impl<'a> UnknownWord<'a> {
    fn read(message: &'a str) -> Option<Self> {
        let (is_key, rest) = if let Some(rest) = message.strip_prefix("unknown field `") {
            (true, rest)
        } else {
            (false, message.strip_prefix("unknown variant `")?)
        };
        let (word, allowed) = rest.split_once('`')?;
        let allowed = allowed.split('`').skip(1).step_by(2).collect();
        Some(Self {
            is_key,
            word: word.to_owned(),
            allowed,
        })
    }

    fn problem(&self) -> String {
        let what = if self.is_key {
            "unknown key"
        } else {
            "unknown word"
        };
        format!("{what} `{}` [{}]", self.word, self.hint())
    }

    fn hint(&self) -> String {
        match near_miss(&self.word, &self.allowed) {
            Some(meant) => format!("did you mean `{meant}`?"),
            None => format!("allowed: {}", self.allowed.join(", ")),
        }
    }
}
