//! What is no error in a dialect file and yet hardly meant.

mod document;
mod sets;
mod shown;
#[cfg(test)]
mod tests;
mod uses;
mod words;

use std::fmt;

use super::file;
use super::{DialectError, DialectFile};
use crate::scenario::Files;
use document::Document;
use uses::Uses;

/// Says what is hardly meant in a dialect file, and where.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Warning {
    /// The line, counted from 1.
    pub line: usize,
    /// The field, such as `words.state`.
    pub field: String,
    /// What is hardly meant, as it follows the field.
    pub message: String,
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}: {}", self.line, self.field, self.message)
    }
}

/// Says why a dialect is refused, with what can be told of its words all the same: the check stops
/// at the first thing that is wrong, and a table may lack several words.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{error}")]
pub struct LintError {
    /// What the check says.
    pub error: DialectError,
    /// The words that are missing or misspelt, in the order of the file.
    pub warnings: Vec<Warning>,
}

impl DialectFile {
    /// Reads and checks a dialect as [`DialectFile::load`] does, then looks for what is hardly
    /// meant: words that are missing or misspelt, parts and word tables that nothing uses, a host
    /// that shows no state or no temperature, and a push that nothing else shows.
    ///
    /// The warnings are in the order of the file.
    ///
    /// # Errors
    /// As [`DialectFile::load`], with the warnings about words.
    ///
    /// # Example
    /// ```
    /// use coldbed_mock::dialect::DialectFile;
    ///
    /// struct NoFiles;
    /// impl coldbed_mock::scenario::Files for NoFiles {
    ///     fn open(&self, _: &str) -> std::io::Result<Box<dyn std::io::BufRead>> {
    ///         Err(std::io::ErrorKind::Unsupported.into())
    ///     }
    /// }
    ///
    /// let text = DialectFile::builtin_text("plain").unwrap();
    /// let text = format!("{text}\n[words.spare]\none = 1\n");
    /// let warnings = DialectFile::lint("mine.toml", &text, &NoFiles).unwrap();
    /// assert_eq!(warnings[0].message, "no expression uses this table");
    /// ```
    pub fn lint(file: &str, text: &str, files: &dyn Files) -> Result<Vec<Warning>, LintError> {
        let checked = Self::load(file, text, files);
        let document = Document::read(file, text, files).map_err(|error| LintError {
            error,
            warnings: Vec::new(),
        })?;
        let uses = Uses::of(&document.table);
        let mut warnings = Vec::new();
        // What is wrong with the layers the check has told.
        let wholes = file::layers(&document.raw).unwrap_or_default();
        for whole in &wholes {
            words::look(&document, &uses, whole, &mut warnings);
        }
        let dialects = match checked {
            Ok(dialects) => dialects,
            Err(error) => {
                let warnings = in_order(warnings);
                return Err(LintError { error, warnings });
            }
        };
        for (dialect, whole) in dialects.versions().iter().zip(&wholes) {
            shown::look(&document, dialect, whole, &mut warnings);
        }
        uses.look_for_unused_parts(&document, &mut warnings);
        Ok(in_order(warnings))
    }
}

/// Sorts warnings as the file has them, each once: a version has what it does not change from the
/// one below, with the same warnings.
fn in_order(mut warnings: Vec<Warning>) -> Vec<Warning> {
    warnings.sort_by_key(|warning| warning.line);
    let mut kept: Vec<Warning> = Vec::new();
    for warning in warnings {
        if !kept.contains(&warning) {
            kept.push(warning);
        }
    }
    kept
}
