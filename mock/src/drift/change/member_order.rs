//! The same members in another order.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Change, Kind, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};

/// Turns the order of the members of the object at the pointer round. Compatible.
///
/// # Source
/// RFC 8259 section 1 (an object is an unordered collection) and section 4.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReverseMembers;

impl Kind for ReverseMembers {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has its members in the opposite order")
    }
}

impl Shape for ReverseMembers {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let object = spot.object()?;
        *object = std::mem::take(object).into_iter().rev().collect();
        Ok(())
    }

    fn inverse(&self, pointer: &str, _before: &Value) -> Option<(String, Change)> {
        Some((pointer.to_owned(), Self.into()))
    }
}

/// Orders the members of the object at the pointer by name, by code points. Compatible.
///
/// # Source
/// RFC 8259 section 1 (an object is an unordered collection) and section 4.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SortMembers;

impl Kind for SortMembers {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has its members ordered by name")
    }
}

impl Shape for SortMembers {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let object = spot.object()?;
        let mut members: Vec<_> = std::mem::take(object).into_iter().collect();
        members.sort_by(|(name, _), (other, _)| name.cmp(other));
        *object = members.into_iter().collect();
        Ok(())
    }
}
