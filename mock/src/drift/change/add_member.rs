//! A member that nobody told the client about.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Change, Kind, RemoveMember, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};
use crate::pointer;

/// Adds a member to the object at the pointer, after the others. Compatible.
///
/// # Source
/// RFC 7493 section 4.2: a receiver ignores members it does not know.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct AddMember {
    /// The member's name.
    pub member: String,
    /// Its value.
    pub value: Value,
}

impl Kind for AddMember {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        let Self { member, value } = self;
        format!("{place} has one more member, `{member}`, with the value {value}")
    }
}

impl Shape for AddMember {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        spot.add(&self.member, self.value.clone())
    }

    fn inverse(&self, pointer: &str, _before: &Value) -> Option<(String, Change)> {
        Some((pointer::join(pointer, &self.member), RemoveMember.into()))
    }
}
