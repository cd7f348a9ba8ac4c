//! Changes of a body against its dialect: what a host update does to a client.
//!
//! A [`Drift`] is a value: where, what, and what it may do to a client. Raised on a
//! [`DriftBoard`], it is applied to every body until its guard is dropped. There are two stages:
//! changes of the *shape* make another JSON value, then changes of the *spelling* write that value
//! in another way, or as bytes that are no JSON.
//!
//! Owns: the changes, their explanations, the board, the writer.
//! Does not own: dialects (a drift knows only JSON) and verdicts about clients.
//!
//! A further kind of change is one file in `change/` and one row in its list.

mod board;
mod change;
mod pen;
mod spot;

use serde::{Deserialize, Serialize};
use serde_json::Value;

pub use board::{DriftBoard, DriftChange, DriftGuard};
pub use change::{
    AddMember, AppendElement, Blank, ByteOrderMark, Change, DecimalPoint, Deep, DeepenUnknown,
    DuplicateMember, EmptyBody, EscapedNames, ExponentNumbers, Garbage, HugeNumber, Indented,
    InvalidUtf8, LoneSurrogate, MoveMember, NonAsciiEscaped, NotANumber, NumberAsText,
    ObjectAsArray, Pad, Position, PrependElement, RemoveMember, RenameMember, ReplaceByNull,
    ReplaceValue, ReverseMembers, Scale, SortMembers, Spaced, TextAsNumber, TrailingComma,
    TrailingText, Truncated, ValueAsObject,
};
pub use spot::DriftMiss;

use pen::Pen;
use spot::Spot;

/// Is a change of a body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// A name for reports and for the command line.
    pub name: String,
    /// The place, as a JSON Pointer (RFC 6901) into the body.
    pub pointer: String,
    /// What happens there.
    pub change: Change,
    /// What a client owes when it happens.
    pub class: DriftClass,
}

/// Says what a client owes when a drift happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DriftClass {
    /// It must still be right.
    Compatible,
    /// It must say that it does not know; showing a wrong or old value as live is the failure.
    Breaking,
    /// It must survive.
    Hostile,
}

impl Drift {
    /// Makes a drift that has the name of its kind, such as `replace-by-null`, and the class that
    /// the kind suggests.
    pub fn of(pointer: impl Into<String>, change: impl Into<Change>) -> Self {
        let change = change.into();
        Self {
            name: change.name(),
            pointer: pointer.into(),
            class: change.kind().class(),
            change,
        }
    }

    /// Applies the drift to a body's shape. On an error the body is unchanged.
    ///
    /// # Errors
    /// [`DriftMiss`] when the body has no such place; a drift for one route misses the others.
    /// Also when the drift changes only the spelling.
    pub fn apply(&self, body: &mut Value) -> Result<(), DriftMiss> {
        match self.change.shape() {
            Some(shape) => shape.apply(Spot::new(body, &self.pointer)),
            None => Err(DriftMiss::OtherStage { wanted: "shape" }),
        }
    }

    /// Writes a body with the drift's spelling.
    ///
    /// # Errors
    /// [`DriftMiss`] when the body has no such place, or the drift changes only the shape.
    pub fn spell(&self, body: &Value) -> Result<Vec<u8>, DriftMiss> {
        let mut pen = Pen::new(body);
        self.instruct(&mut pen)?;
        Ok(pen.write())
    }

    fn instruct(&self, pen: &mut Pen<'_>) -> Result<(), DriftMiss> {
        match self.change.spelling() {
            Some(spelling) => spelling.spell(pen, &self.pointer),
            None => Err(DriftMiss::OtherStage { wanted: "spelling" }),
        }
    }

    /// Gives the drift that takes this one back, for the body it was applied to. `None` when it
    /// does not fit that body, or changes only the spelling.
    #[must_use]
    pub fn inverse(&self, before: &Value) -> Option<Self> {
        let shape = self.change.shape()?;
        self.apply(&mut before.clone()).ok()?;
        let (pointer, change) = shape.inverse(&self.pointer, before)?;
        Some(Self {
            name: format!("undo-{}", self.name),
            pointer,
            change,
            class: self.class,
        })
    }

    /// Says in one sentence what has changed, so that somebody who sees a client fail can put it
    /// back by hand.
    pub fn explain(&self) -> String {
        let place = if self.pointer.is_empty() {
            "the whole body"
        } else {
            &self.pointer
        };
        self.change.kind().explain(place)
    }
}

#[cfg(test)]
mod tests;
