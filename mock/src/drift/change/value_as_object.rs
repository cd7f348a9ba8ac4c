//! A value that has got an object around it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::{Kind, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};

/// Puts an object around the value at the pointer: `210` -> `{"value":210}`. Breaking.
///
/// # Source
/// RFC 8259 section 3: an object is another type than what it has in it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct ValueAsObject {
    /// The name of the member that has the value.
    pub member: String,
}

impl Kind for ValueAsObject {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!(
            "{place} is an object with the value as its member `{}`",
            self.member
        )
    }
}

impl Shape for ValueAsObject {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let value = spot.value()?;
        let mut object = Map::new();
        object.insert(self.member.clone(), value.take());
        *value = Value::Object(object);
        Ok(())
    }
}
