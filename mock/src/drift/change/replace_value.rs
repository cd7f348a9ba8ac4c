//! A value that is another one: a new word for a state, a number in another unit.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Change, Kind, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};

/// Puts another value in the place of the one at the pointer: a state word that nobody told the
/// client about. Breaking.
///
/// # Source
/// RFC 7493 section 4.2 lets hosts add to a protocol; that a word is one of the ways, and that which
/// words there are is between host and client, is common practice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct ReplaceValue {
    /// The new value.
    pub value: Value,
}

impl ReplaceValue {
    /// Makes the change that puts a body's own value back.
    pub(super) fn old(pointer: &str, before: &Value) -> Option<Change> {
        let value = before.pointer(pointer)?.clone();
        Some(Self { value }.into())
    }
}

impl Kind for ReplaceValue {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has the value {}", self.value)
    }
}

impl Shape for ReplaceValue {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        *spot.value()? = self.value.clone();
        Ok(())
    }
}
