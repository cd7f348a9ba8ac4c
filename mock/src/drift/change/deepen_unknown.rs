//! A deep member that nobody told the client about.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Change, Kind, RemoveMember, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};
use crate::pointer;

/// Adds a member to the object at the pointer, after the others, that is arrays within arrays.
/// Compatible.
///
/// # Source
/// RFC 7493 section 4.2: a receiver ignores members it does not know.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct DeepenUnknown {
    /// The member's name.
    pub member: String,
    /// How many arrays are within each other: 64 at most, since a parser may set a limit (RFC 8259
    /// section 9). See [`Deep`](super::Deep) for more.
    pub levels: u32,
}

/// How deep a body may get that every client still has to read: half of what common parsers take.
const MOST_LEVELS: u32 = 64;

impl Kind for DeepenUnknown {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        let Self { member, levels } = self;
        format!("{place} has one more member, `{member}`, with {levels} arrays within each other")
    }

    fn check(&self) -> Result<(), DriftMiss> {
        DriftMiss::check("levels", self.levels, MOST_LEVELS)
    }
}

impl Shape for DeepenUnknown {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let value = (0..self.levels).fold(Value::Null, |inner, level| match level {
            0 => Value::Array(Vec::new()),
            _ => Value::Array(vec![inner]),
        });
        spot.add(&self.member, value)
    }

    fn inverse(&self, pointer: &str, _before: &Value) -> Option<(String, Change)> {
        Some((pointer::join(pointer, &self.member), RemoveMember.into()))
    }
}
