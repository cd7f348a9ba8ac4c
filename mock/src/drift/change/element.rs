//! One more element, at either end.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Kind, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};

/// Adds an element to the array at the pointer, after the others. Compatible.
///
/// # Source
/// RFC 7493 section 4.2: a receiver ignores what it does not know; RFC 8259 section 5: there is no
/// requirement on how many elements an array has.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct AppendElement {
    /// The element.
    pub value: Value,
}

impl Kind for AppendElement {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has one more element at its end, {}", self.value)
    }
}

impl Shape for AppendElement {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        spot.array()?.push(self.value.clone());
        Ok(())
    }
}

/// Adds an element to the array at the pointer, before the others: the first heater is another one
/// then. Breaking, since a client may go by the order.
///
/// # Source
/// RFC 8259 section 1: an array is an ordered sequence. That the order is part of what host and client
/// have agreed on is common practice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct PrependElement {
    /// The element.
    pub value: Value,
}

impl Kind for PrependElement {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has another first element, {}", self.value)
    }
}

impl Shape for PrependElement {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        spot.array()?.insert(0, self.value.clone());
        Ok(())
    }
}
