//! Changes of a body's shape against its dialect: what a host update does to a client.
//!
//! A [`Drift`] is a value: where, what, and what it may do to a client. Raised on a
//! [`DriftBoard`], it is applied to every body until its guard is dropped.
//!
//! Owns: the changes, their explanations, the board.
//! Does not own: dialects (a drift knows only JSON) and verdicts about clients.
//!
//! A further kind of change is one file in `change/` and one row in its list.

mod board;
mod change;
mod spot;

use serde::{Deserialize, Serialize};
use serde_json::Value;

pub use board::{DriftBoard, DriftChange, DriftGuard};
pub use change::{AddMember, Change, ReplaceByNull};
pub use spot::DriftMiss;

use spot::Spot;

/// Is a change of a body's shape.
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
    /// Applies the drift to a body. On an error the body is unchanged.
    ///
    /// # Errors
    /// [`DriftMiss`] when the body has no such place; a drift for one route misses the others.
    pub fn apply(&self, body: &mut Value) -> Result<(), DriftMiss> {
        self.change.kind().apply(Spot::new(body, &self.pointer))
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
