//! The small file in which a user describes a board, a cell, or both.

use indexmap::IndexMap;
use toml::{Spanned, Value};

use super::builtin;
use super::error::{PowerError, hint};
use super::figure::{Figure, Key, Mark};

/// Every section that such a file may have.
const SECTIONS: [&str; 2] = ["board", "cell"];
/// The keys that are no figures.
const WORDS: [&str; 2] = ["name", "like"];

type Table = IndexMap<Spanned<String>, Spanned<Value>>;

/// Is one section of a file, not yet checked.
pub(super) struct Section<'a> {
    file: &'a str,
    text: &'a str,
    name: &'static str,
    entries: Table,
}

impl<'a> Section<'a> {
    /// Reads the file and takes that section out of it.
    pub(super) fn read(
        file: &'a str,
        text: &'a str,
        name: &'static str,
    ) -> Result<Self, PowerError> {
        let mut sections: IndexMap<Spanned<String>, Spanned<Table>> = toml::from_str(text)
            .map_err(|error| PowerError::Syntax {
                at: place(file, text, error.span().map_or(0, |span| span.start)),
                message: error.message().to_owned(),
            })?;
        for key in sections.keys() {
            if !SECTIONS.contains(&key.get_ref().as_str()) {
                return Err(PowerError::UnknownKey {
                    at: place(file, text, key.span().start),
                    key: key.get_ref().clone(),
                    hint: hint(key.get_ref(), &SECTIONS),
                });
            }
        }
        sections.retain(|key, _| key.get_ref() == name);
        match sections.pop() {
            Some((_, entries)) => Ok(Self {
                file,
                text,
                name,
                entries: entries.into_inner(),
            }),
            None => Err(PowerError::NoSection {
                file: file.to_owned(),
                section: name,
            }),
        }
    }

    /// Gives what `name` says, and else the file's own name.
    pub(super) fn name(&self) -> Result<String, PowerError> {
        Ok(self.word("name")?.unwrap_or(self.file).to_owned())
    }

    /// Gives what the section is built upon, if it says so.
    pub(super) fn like<T>(
        &self,
        builtin: impl Fn(&str) -> Result<T, PowerError>,
    ) -> Result<Option<T>, PowerError> {
        let Some(name) = self.word("like")? else {
            return Ok(None);
        };
        let known = builtin(name).map_err(|error| match self.find("like") {
            Some((_, value)) => error.at(self.place(value.span().start)),
            None => error,
        });
        known.map(Some)
    }

    /// Gives each figure of the section with its key. Unless it is built upon something, all of
    /// them have to be there.
    pub(super) fn figures(
        &self,
        keys: &'static [Key],
        is_whole: bool,
    ) -> Result<Vec<(&'static str, Figure)>, PowerError> {
        let mut figures = Vec::new();
        for (key, value) in &self.entries {
            let name = key.get_ref();
            if WORDS.contains(&name.as_str()) {
                continue;
            }
            match keys.iter().find(|known| known.name == name) {
                Some(known) => figures.push((known.name, self.number(known, value)?)),
                None => return Err(self.unknown(key, keys)),
            }
        }
        match keys.iter().find(|key| self.find(key.name).is_none()) {
            Some(missing) if !is_whole => Err(PowerError::Missing {
                file: self.file.to_owned(),
                section: self.name,
                key: missing.name,
                example: builtin::example(self.name),
            }),
            _ => Ok(figures),
        }
    }

    fn number(&self, key: &'static Key, value: &Spanned<Value>) -> Result<Figure, PowerError> {
        let at = self.place(value.span().start);
        let number = match value.get_ref() {
            Value::Float(number) => *number,
            #[expect(
                clippy::cast_precision_loss,
                reason = "a number beyond 2^53 is outside every limit"
            )]
            Value::Integer(number) => *number as f64,
            other => {
                return Err(PowerError::WrongKind {
                    at,
                    key: format!("{}.{}", self.name, key.name),
                    found: other.type_str(),
                    wanted: "a number",
                });
            }
        };
        // Written so that a number that is none is outside.
        if !(key.min..=key.max).contains(&number) {
            return Err(PowerError::OutOfBounds {
                at,
                section: self.name,
                key,
                value: number,
            });
        }
        Ok(Figure {
            value: number,
            source: at.into(),
            mark: Mark::Given,
        })
    }

    fn word(&self, key: &str) -> Result<Option<&str>, PowerError> {
        let Some((_, value)) = self.find(key) else {
            return Ok(None);
        };
        match value.get_ref() {
            Value::String(word) => Ok(Some(word)),
            other => Err(PowerError::WrongKind {
                at: self.place(value.span().start),
                key: format!("{}.{key}", self.name),
                found: other.type_str(),
                wanted: "a string",
            }),
        }
    }

    fn find(&self, key: &str) -> Option<(&Spanned<String>, &Spanned<Value>)> {
        self.entries
            .iter()
            .find(|(written, _)| written.get_ref() == key)
    }

    fn unknown(&self, key: &Spanned<String>, keys: &[Key]) -> PowerError {
        let known: Vec<&str> = keys.iter().map(|key| key.name).chain(WORDS).collect();
        PowerError::UnknownKey {
            at: self.place(key.span().start),
            key: format!("{}.{}", self.name, key.get_ref()),
            hint: hint(key.get_ref(), &known),
        }
    }

    fn place(&self, byte: usize) -> String {
        place(self.file, self.text, byte)
    }
}

/// Gives file and line of a byte.
fn place(file: &str, text: &str, byte: usize) -> String {
    let line = text.bytes().take(byte).filter(|b| *b == b'\n').count() + 1;
    format!("{file}:{line}")
}
