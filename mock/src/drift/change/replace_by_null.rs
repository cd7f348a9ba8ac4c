//! A value that is suddenly null.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Kind, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};

/// Puts null in the place of the value at the pointer. Breaking.
///
/// # Source
/// RFC 8259 section 3: null is a value of its own, not a number and not a text.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReplaceByNull;

impl Kind for ReplaceByNull {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} is null")
    }
}

impl Shape for ReplaceByNull {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        *spot.value()? = Value::Null;
        Ok(())
    }
}
