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

/// Knows a file's name and text, so that a place in it can be told as a line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Source<'a> {
    pub(super) file: &'a str,
    pub(super) text: &'a str,
}

impl Source<'_> {
    pub(super) fn error_at(
        &self,
        byte: Option<usize>,
        field: impl Into<String>,
        problem: impl Into<String>,
    ) -> ScenarioError {
        let line = byte.map(|byte| {
            let before = &self.text.as_bytes()[..byte.min(self.text.len())];
            1 + before.iter().filter(|&&b| b == b'\n').count()
        });
        ScenarioError {
            file: self.file.to_owned(),
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
                let hint = unknown.hint();
                let field = if unknown.is_key && !field.ends_with(&unknown.word) {
                    join(field, &unknown.word)
                } else {
                    field.to_owned()
                };
                let what = if unknown.is_key {
                    "unknown key"
                } else {
                    "unknown word"
                };
                (field, format!("{what} `{}` [{hint}]", unknown.word))
            }
            None => (field.to_owned(), message.trim().replace('\n', ", ")),
        };
        self.error_at(byte, field, problem)
    }
}

/// Takes out of a path what the reader put in: the marker of a value that knows its place, and the
/// dot that stands for the whole file.
fn plain_path(path: &str) -> &str {
    let path = path
        .split_once(".$__serde_spanned")
        .map_or(path, |(before, _)| before);
    if path == "." { "" } else { path }
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

    fn hint(&self) -> String {
        match near_miss(&self.word, &self.allowed) {
            Some(meant) => format!("did you mean `{meant}`?"),
            None => format!("allowed: {}", self.allowed.join(", ")),
        }
    }
}
