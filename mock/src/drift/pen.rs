//! The writer: JSON in any spelling that is allowed, and in some that are not.

mod number;
mod text;
mod writer;

use std::collections::BTreeMap;

use serde_json::Value;

pub(super) use number::NumberForm;

use super::spot::DriftMiss;
use crate::pointer;
use writer::Writer;

/// Holds what the spelling drifts have asked for, until the body is written.
#[derive(Debug)]
pub(super) struct Pen<'a> {
    body: &'a Value,
    /// By canonical pointer; each is a place of the body.
    marks: BTreeMap<String, Mark>,
    edits: Vec<Edit>,
}

/// Says how one place is to be written. The forms hold for everything inside it, too.
#[derive(Debug, Default)]
pub(super) struct Mark {
    pub(super) layout: Option<Layout>,
    pub(super) numbers: Option<NumberForm>,
    /// Whether ASCII letters are written as escapes.
    pub(super) letters_escaped: bool,
    /// Whether everything beyond ASCII is written as escapes.
    pub(super) non_ascii_escaped: bool,
    /// The bytes to be written instead of the value.
    pub(super) instead: Option<Vec<u8>>,
    /// The bytes to be written in a text, after its last character.
    pub(super) in_text: Vec<u8>,
    /// The bytes to be written in a member's name, after its last character.
    pub(super) in_name: Vec<u8>,
    /// Members to be written before the others: name, and the value's bytes.
    pub(super) first: Vec<(String, Vec<u8>)>,
    /// Members to be written after the others.
    pub(super) last: Vec<(String, Vec<u8>)>,
    /// Whether a comma follows the last member or element.
    pub(super) trailing_comma: bool,
}

/// Says what stands between the tokens.
#[derive(Debug, Clone, Copy, Default)]
pub(super) enum Layout {
    /// Nothing.
    #[default]
    Tight,
    /// A line for each member and element, with so many spaces for each level.
    Indented(usize),
    /// This byte, which is white space.
    Spaced(u8),
}

/// Says what happens to the bytes after they have been written.
#[derive(Debug)]
pub(super) enum Edit {
    /// These go before.
    Before(&'static [u8]),
    /// These go after.
    After(Vec<u8>),
    /// Only so many are kept.
    Keep(usize),
}

impl<'a> Pen<'a> {
    pub(super) fn new(body: &'a Value) -> Self {
        Self {
            body,
            marks: BTreeMap::new(),
            edits: Vec::new(),
        }
    }

    /// Gives the value at a place.
    pub(super) fn value(&self, pointer: &str) -> Result<&'a Value, DriftMiss> {
        self.body
            .pointer(pointer)
            .ok_or_else(|| DriftMiss::NoPlace {
                pointer: pointer.to_owned(),
            })
    }

    /// Gives the mark of a place where the body has a value of the right kind.
    pub(super) fn mark(
        &mut self,
        pointer: &str,
        wanted: &'static str,
        is_right: impl Fn(&Value) -> bool,
    ) -> Result<&mut Mark, DriftMiss> {
        if !is_right(self.value(pointer)?) {
            return Err(DriftMiss::WrongKind {
                pointer: pointer.to_owned(),
                wanted,
            });
        }
        Ok(self.marks.entry(pointer::canonical(pointer)).or_default())
    }

    /// Gives the mark of a place that may be of any kind.
    pub(super) fn mark_any(&mut self, pointer: &str) -> Result<&mut Mark, DriftMiss> {
        self.mark(pointer, "a value", |_| true)
    }

    /// Gives the mark of a place that is a member of an object.
    pub(super) fn mark_member(&mut self, pointer: &str) -> Result<&mut Mark, DriftMiss> {
        self.value(pointer)?;
        let parent = pointer::split(pointer).and_then(|(parent, _)| self.body.pointer(parent));
        let is_member = parent.is_some_and(Value::is_object);
        self.mark(pointer, "a member of an object", |_| is_member)
    }

    /// Asks for an edit of the bytes, for bodies that have the place.
    pub(super) fn edit(&mut self, pointer: &str, edit: Edit) -> Result<(), DriftMiss> {
        self.value(pointer)?;
        self.edits.push(edit);
        Ok(())
    }

    /// Writes the body.
    pub(super) fn write(self) -> Vec<u8> {
        let mut bytes = Writer::new(&self.marks).write(self.body);
        for edit in self.edits {
            match edit {
                Edit::Before(more) => {
                    bytes.splice(..0, more.iter().copied());
                }
                Edit::After(more) => bytes.extend(more),
                Edit::Keep(count) => bytes.truncate(count),
            }
        }
        bytes
    }
}
