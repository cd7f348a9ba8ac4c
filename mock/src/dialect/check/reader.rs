//! The text of a dialect file, for reading it and for saying where something is.

use std::fmt::Display;
use std::ops::RangeInclusive;

use http::{HeaderMap, HeaderName, HeaderValue};
use indexmap::IndexMap;

use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::{File, Spanned, Text};
use crate::dialect::names;
use crate::dialect::place::{BodyError, Source};
use crate::scenario::Files;

/// Is the text of a file, for places and errors.
#[derive(Clone, Copy)]
pub(in crate::dialect) struct Reader<'a> {
    pub(in crate::dialect) file: &'a str,
    pub(in crate::dialect) text: &'a str,
    /// Opens the files that the dialect names.
    pub(in crate::dialect) files: &'a dyn Files,
}

impl Reader<'_> {
    pub(in crate::dialect) fn toml(&self) -> Result<File, DialectError> {
        let wrong = |field: String, error: &toml::de::Error| DialectError {
            file: self.file.to_owned(),
            line: error.span().map(|span| self.line(span.start)),
            field,
            problem: Box::new(DialectProblem::Toml {
                message: error.message().replace('\n', ", "),
                hint: names::nearest_in_message(error.message()),
            }),
        };
        let reader = toml::Deserializer::parse(self.text)
            .map_err(|error| wrong("file".to_owned(), &error))?;
        serde_path_to_error::deserialize(reader).map_err(|error| {
            // `Spanned` shows in the path as a field of its own.
            let path = error
                .path()
                .to_string()
                .replace(".$__serde_spanned_private_value", "");
            let field = if path == "." { "file".to_owned() } else { path };
            wrong(field, error.inner())
        })
    }

    /// Gives the line, counted from 1, of a byte.
    pub(in crate::dialect) fn line(&self, byte: usize) -> usize {
        let before = self.text.as_bytes().iter().take(byte);
        1 + before.filter(|byte| **byte == b'\n').count()
    }

    /// Gives a string with the line on which its content begins.
    pub(super) fn source<'t>(&self, field: &str, text: &'t Text) -> Source<'t> {
        let span = text.span();
        let written = self.text.get(span.clone()).unwrap_or_default();
        // The newline right after three quotes is not part of the string (TOML 1.0, "String").
        let trimmed = ["'''", "\"\"\""].into_iter().any(|quotes| {
            written
                .strip_prefix(quotes)
                .is_some_and(|rest| rest.starts_with('\n') || rest.starts_with("\r\n"))
        });
        Source {
            field: field.into(),
            text: text.get_ref(),
            first_line: self.line(span.start) + usize::from(trimmed),
        }
    }

    pub(super) fn error(&self, byte: usize, field: &str, problem: DialectProblem) -> DialectError {
        DialectError {
            file: self.file.to_owned(),
            line: Some(self.line(byte)),
            field: field.to_owned(),
            problem: Box::new(problem),
        }
    }

    pub(super) fn not_allowed(
        &self,
        field: &str,
        value: &Text,
        allowed: &str,
        known: &[&str],
    ) -> DialectError {
        self.error(
            value.span().start,
            field,
            DialectProblem::NotAllowed {
                value: value.get_ref().clone(),
                allowed: allowed.to_owned(),
                hint: names::nearest(value.get_ref(), known.iter().copied()),
            },
        )
    }

    pub(super) fn located<T>(&self, result: Result<T, BodyError>) -> Result<T, DialectError> {
        result.map_err(|BodyError { site, problem }| DialectError {
            file: self.file.to_owned(),
            line: Some(site.line),
            field: field_at(&site.field, &site.pointer),
            problem,
        })
    }

    pub(super) fn headers(
        &self,
        field: &str,
        table: &IndexMap<String, Text>,
    ) -> Result<HeaderMap, DialectError> {
        let mut headers = HeaderMap::new();
        for (name, value) in table {
            let field = format!("{field}.{name}");
            let header = self.header_name(&field, name, value.span().start)?;
            headers.append(header, self.header_value(&field, Some(value), "")?);
        }
        Ok(headers)
    }

    /// Checks the name of a header field; `byte` is where it stands.
    pub(super) fn header_name(
        &self,
        field: &str,
        name: &str,
        byte: usize,
    ) -> Result<HeaderName, DialectError> {
        HeaderName::try_from(name).map_err(|_| {
            let problem = DialectProblem::NotAllowed {
                value: name.to_owned(),
                allowed: "a header field's name (RFC 9110 section 5.1)".to_owned(),
                hint: None,
            };
            self.error(byte, field, problem)
        })
    }

    /// Refuses a number.
    pub(super) fn bad_number<T: Display>(
        &self,
        field: &str,
        number: &Spanned<T>,
        allowed: impl Into<String>,
    ) -> DialectError {
        let problem = DialectProblem::NotAllowed {
            value: number.get_ref().to_string(),
            allowed: allowed.into(),
            hint: None,
        };
        self.error(number.span().start, field, problem)
    }

    /// Checks that a number is within its bounds.
    pub(super) fn within<T: PartialOrd + Copy + Display>(
        &self,
        field: &str,
        number: &Spanned<T>,
        bounds: RangeInclusive<T>,
        unit: &str,
    ) -> Result<T, DialectError> {
        let value = *number.get_ref();
        if bounds.contains(&value) {
            return Ok(value);
        }
        let allowed = format!("{} to {} {unit}", bounds.start(), bounds.end());
        Err(self.bad_number(field, number, allowed))
    }

    /// As [`Reader::within`], for a number that may be left out.
    pub(super) fn within_if_there<T: PartialOrd + Copy + Display>(
        &self,
        field: &str,
        number: Option<&Spanned<T>>,
        bounds: RangeInclusive<T>,
        unit: &str,
    ) -> Result<Option<T>, DialectError> {
        number
            .map(|number| self.within(field, number, bounds, unit))
            .transpose()
    }

    /// Gives the value that a word stands for; the first one if there is no word.
    pub(super) fn one_of<T: Copy>(
        &self,
        field: &str,
        word: Option<&Text>,
        known: &[(&str, T)],
    ) -> Result<T, DialectError> {
        let Some(word) = word else {
            return Ok(known[0].1);
        };
        let found = known.iter().find(|(name, _)| name == word.get_ref());
        found.map(|(_, value)| *value).ok_or_else(|| {
            let names: Vec<&str> = known.iter().map(|(name, _)| *name).collect();
            let allowed = format!("one of {}", names.join(", "));
            self.not_allowed(field, word, &allowed, &names)
        })
    }

    pub(super) fn header_value(
        &self,
        field: &str,
        value: Option<&Text>,
        default: &'static str,
    ) -> Result<HeaderValue, DialectError> {
        let Some(value) = value else {
            return Ok(HeaderValue::from_static(default));
        };
        HeaderValue::try_from(value.get_ref()).map_err(|_| {
            let allowed = "a header field's value (RFC 9110 section 5.5)";
            self.not_allowed(field, value, allowed, &[])
        })
    }
}

/// Names a place inside a field.
pub(super) fn field_at(field: &str, pointer: &str) -> String {
    if pointer.is_empty() {
        field.to_owned()
    } else {
        format!("{field} at {pointer}")
    }
}
