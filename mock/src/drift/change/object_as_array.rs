//! An object that has become an array.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Kind, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};

/// Makes the object at the pointer an array of its values. Breaking.
///
/// # Source
/// RFC 8259 section 3: an array is another type than an object.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ObjectAsArray;

impl Kind for ObjectAsArray {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} is an array of its members' values")
    }
}

impl Shape for ObjectAsArray {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let miss = spot.wrong_kind("an object");
        let value = spot.value()?;
        let members = value.as_object_mut().ok_or(miss)?;
        let values = std::mem::take(members).into_iter();
        *value = values.map(|(_, value)| value).collect();
        Ok(())
    }
}
