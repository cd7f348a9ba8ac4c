//! A dialect file with the place of every key.

use toml::de::{DeTable, DeValue};

use super::Warning;
use crate::dialect::DialectError;
use crate::dialect::check::Reader;
use crate::dialect::file::File;
use crate::scenario::Files;

/// Is a file three times: as its raw types, as a plain table, and as text.
pub(super) struct Document<'a> {
    reader: Reader<'a>,
    pub(super) raw: File,
    pub(super) table: toml::Table,
}

impl<'a> Document<'a> {
    /// Reads a file.
    ///
    /// # Errors
    /// It is no dialect's.
    pub(super) fn read(
        file: &'a str,
        text: &'a str,
        files: &'a dyn Files,
    ) -> Result<Self, DialectError> {
        let reader = Reader { file, text, files };
        Ok(Self {
            reader,
            raw: reader.toml()?,
            // The same text was read as TOML a line ago.
            table: toml::from_str(text).unwrap_or_default(),
        })
    }

    /// Gives the line of a key, by the keys above it; those in an array by their place.
    pub(super) fn line(&self, path: &[&str]) -> Option<usize> {
        let document = DeTable::parse(self.reader.text).ok()?;
        let mut table = document.get_ref();
        let mut value: Option<&DeValue<'_>> = None;
        let mut place = 0;
        for key in path {
            match value {
                Some(DeValue::Array(items)) => {
                    let item = items.get(key.parse::<usize>().ok()?)?;
                    place = item.span().start;
                    value = Some(item.get_ref());
                    continue;
                }
                Some(DeValue::Table(inner)) => table = inner,
                Some(_) => return None,
                None => {}
            }
            let (key, found) = table.get_key_value(*key)?;
            place = key.span().start;
            value = Some(found.get_ref());
        }
        Some(self.reader.line(place))
    }

    /// Gives the line of a byte.
    pub(super) fn line_of(&self, byte: usize) -> usize {
        self.reader.line(byte)
    }

    /// Makes a warning about a key. `layer` is the field its table stands in, such as
    /// `versions[0].words`.
    pub(super) fn warning(&self, layer: &str, below: &[&str], message: String) -> Warning {
        let spaced = layer.replace(['[', ']', '.'], " ");
        let mut path: Vec<&str> = spaced.split_whitespace().collect();
        path.extend(below);
        Warning {
            line: self.line(&path).unwrap_or(1),
            field: [&[layer], below].concat().join("."),
            message,
        }
    }
}
