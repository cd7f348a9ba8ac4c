//! The dialects that come with the program.

use std::sync::Arc;

use super::error::{DialectError, DialectProblem};
use super::{Dialect, DialectFile, names};

/// Lists `dialects/NAME.toml` for names, with their texts.
macro_rules! texts {
    ($($name:literal),+ $(,)?) => {
        &[$(($name, include_str!(concat!("../../dialects/", $name, ".toml")))),+]
    };
}

/// Names and texts of the built-in dialects, in the order they are shown.
const BUILTIN: &[(&str, &str)] = texts!["plain", "senml", "flat", "nested"];

impl DialectFile {
    /// Lists the names of the built-in dialects.
    pub fn builtin_names() -> impl Iterator<Item = &'static str> {
        BUILTIN.iter().map(|(name, _)| *name)
    }

    /// Gives the text of a built-in dialect, to begin one's own with.
    pub fn builtin_text(name: &str) -> Option<&'static str> {
        let found = BUILTIN.iter().find(|(known, _)| *known == name);
        found.map(|(_, text)| *text)
    }

    /// Gives a built-in dialect.
    ///
    /// # Errors
    /// There is none of that name.
    pub fn builtin(name: &str) -> Result<Self, DialectError> {
        match Self::builtin_text(name) {
            Some(text) => Self::parse(name, text),
            None => Err(DialectError {
                file: name.to_owned(),
                line: None,
                field: "dialect".to_owned(),
                problem: Box::new(DialectProblem::NotAllowed {
                    value: name.to_owned(),
                    allowed: format!(
                        "a built-in dialect ({})",
                        Self::builtin_names().collect::<Vec<_>>().join(", ")
                    ),
                    hint: names::nearest(name, Self::builtin_names()),
                }),
            }),
        }
    }
}

impl Dialect {
    /// Gives the first version of a built-in dialect.
    ///
    /// # Errors
    /// There is none of that name.
    pub fn builtin(name: &str) -> Result<Arc<Self>, DialectError> {
        DialectFile::builtin(name).map(|file| Arc::clone(file.first()))
    }
}
