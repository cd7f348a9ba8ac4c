//! A member that is missing.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Change, Kind, ReplaceValue, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};
use crate::pointer;

/// Takes the member at the pointer away. Breaking.
///
/// JSON does not say which members are optional; the host's documentation does. For one that is, give
/// the drift the class compatible: a client that leaves the value out is then right.
///
/// # Source
/// RFC 8259 section 4: an object has zero or more members; none has to be there. That an absent
/// member says nothing of its value is common practice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RemoveMember;

impl Kind for RemoveMember {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} is missing")
    }
}

impl Shape for RemoveMember {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let (object, name) = spot.member()?;
        object.shift_remove(&name);
        Ok(())
    }

    /// Puts the whole object back, since a member that is added comes last.
    fn inverse(&self, pointer: &str, before: &Value) -> Option<(String, Change)> {
        let (parent, _) = pointer::split(pointer)?;
        Some((parent.to_owned(), ReplaceValue::old(parent, before)?))
    }
}
