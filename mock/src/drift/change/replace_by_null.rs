//! A value that is suddenly null.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::Kind;
use crate::drift::spot::{DriftMiss, Spot};

/// Puts null in the place of the value at the pointer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReplaceByNull;

impl Kind for ReplaceByNull {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        *spot.value()? = Value::Null;
        Ok(())
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} is null")
    }
}
