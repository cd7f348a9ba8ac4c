//! What is wrong with a watcher file, and where.

use std::fmt;

/// Says what is wrong with a watcher file: file, line, column, field, value, what is allowed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}: {problem}", Place(self))]
pub struct WatcherFileError {
    /// The file, as it was named by the caller.
    pub file: String,
    /// Line and column, each counted from 1, the column in characters; `None` where the file could
    /// not be read at all.
    pub place: Option<(usize, usize)>,
    /// The dotted path of the field, such as `sightings.fields.phase`; empty when none.
    pub field: String,
    /// The problem, with a hint in brackets.
    pub problem: String,
}

impl WatcherFileError {
    /// Says that there is no such file, or none that can be read.
    pub(super) fn unreadable(file: &str, error: &std::io::Error) -> Self {
        Self {
            file: file.to_owned(),
            place: None,
            field: String::new(),
            problem: format!("cannot be read: {error}"),
        }
    }
}

struct Place<'a>(&'a WatcherFileError);

impl fmt::Display for Place<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.file)?;
        if let Some((line, column)) = self.0.place {
            write!(f, ":{line}:{column}")?;
        }
        if !self.0.field.is_empty() {
            write!(f, ": {}", self.0.field)?;
        }
        Ok(())
    }
}

/// Is the text of a file, for telling where something is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Text<'a> {
    pub(super) file: &'a str,
    pub(super) text: &'a str,
}

impl Text<'_> {
    /// Describes a problem at a byte.
    pub(super) fn error(
        &self,
        byte: usize,
        field: impl Into<String>,
        problem: impl Into<String>,
    ) -> WatcherFileError {
        let byte = self.text.floor_char_boundary(byte);
        let before = &self.text[..byte];
        let line_start = before.rfind('\n').map_or(0, |end| end + 1);
        WatcherFileError {
            file: self.file.to_owned(),
            place: Some((
                1 + before.matches('\n').count(),
                1 + before[line_start..].chars().count(),
            )),
            field: field.into(),
            problem: problem.into(),
        }
    }

    /// Translates what the TOML reader said.
    pub(super) fn toml(&self, path: &str, error: &toml::de::Error) -> WatcherFileError {
        let message = error.message();
        let field = plain_path(path);
        let byte = error.span().map_or(0, |span| span.start);
        let problem = coldbed_mock::scenario::unknown_word(message)
            .unwrap_or_else(|| message.trim().replace('\n', ", "));
        self.error(byte, field, problem)
    }
}

/// Takes out of a path what the reader put in: the marker of a value that knows its place, and the
/// dot that stands for the whole file.
fn plain_path(path: &str) -> String {
    let plain = path.replace(".$__serde_spanned_private_value", "");
    if plain == "." { String::new() } else { plain }
}
