//! A value as a line has it, before anything is made of it.

use std::cmp::Ordering;
use std::fmt;

use serde_json::Value;

/// Is a value as a line has it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Raw {
    /// `null`, or a place that is not there.
    Nothing,
    /// `true` or `false`.
    Flag(bool),
    /// A number, always finite.
    Number(f64),
    /// Text, without white space around it.
    Text(String),
    /// An object or array: nothing that a quantity can be.
    Structure(String),
}

/// Is a word or value that a watcher file gives a meaning.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Word {
    /// Text, compared letter by letter.
    Text(String),
    /// A number, compared by value; text that is this number is the same.
    Number(f64),
    /// `true` or `false`.
    Flag(bool),
}

impl Raw {
    /// Takes text.
    pub(crate) fn text(text: &str) -> Self {
        Self::Text(text.trim().to_owned())
    }

    /// Gives the number there is, also one written as text.
    pub(crate) fn number(&self) -> Option<f64> {
        match self {
            Self::Number(number) => Some(*number),
            Self::Text(text) => parse(text),
            _ => None,
        }
    }
}

/// Reads a decimal number; the words `nan` and `inf` are none.
fn parse(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

impl From<&Value> for Raw {
    fn from(value: &Value) -> Self {
        match value {
            Value::Null => Self::Nothing,
            Value::Bool(flag) => Self::Flag(*flag),
            Value::Number(number) => match number.as_f64().filter(|number| number.is_finite()) {
                Some(number) => Self::Number(number),
                None => Self::Text(number.to_string()),
            },
            Value::String(text) => Self::text(text),
            Value::Array(_) | Value::Object(_) => Self::Structure(value.to_string()),
        }
    }
}

impl fmt::Display for Raw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Nothing => f.write_str("null"),
            Self::Flag(flag) => flag.fmt(f),
            Self::Number(number) => number.fmt(f),
            Self::Text(text) | Self::Structure(text) => f.write_str(text),
        }
    }
}

impl Word {
    /// Tells whether a value is this word.
    pub(crate) fn is(&self, raw: &Raw) -> bool {
        match (self, raw) {
            (Self::Text(word), Raw::Text(text)) => word.trim() == text,
            (Self::Text(word), Raw::Number(number)) => {
                parse(word).is_some_and(|word| equal(word, *number))
            }
            (Self::Text(word), Raw::Flag(flag)) => word == flag_word(*flag),
            (Self::Number(word), raw) => raw.number().is_some_and(|number| equal(*word, number)),
            (Self::Flag(word), Raw::Flag(flag)) => word == flag,
            (Self::Flag(word), Raw::Text(text)) => flag_word(*word) == text,
            _ => false,
        }
    }
}

fn flag_word(flag: bool) -> &'static str {
    if flag { "true" } else { "false" }
}

/// Compares by value: 0 and -0 are the same. Neither is ever NaN.
fn equal(one: f64, other: f64) -> bool {
    one.partial_cmp(&other) == Some(Ordering::Equal)
}

impl fmt::Display for Word {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Text(text) => f.write_str(text),
            Self::Number(number) => number.fmt(f),
            Self::Flag(flag) => flag.fmt(f),
        }
    }
}
