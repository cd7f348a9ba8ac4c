//! A member under another name.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Change, Kind, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};
use crate::pointer;

/// Gives the member at the pointer another name; its place among the others stays. Breaking.
///
/// # Source
/// RFC 8259 section 4: an object's members are pairs of a name and a value. That a client finds a
/// value by the name it was told is common practice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct RenameMember {
    /// The new name.
    pub to: String,
}

impl Kind for RenameMember {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has another name, `{}`", self.to)
    }
}

impl Shape for RenameMember {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let pointer = spot.pointer();
        let (object, name) = spot.member()?;
        if object.contains_key(&self.to) {
            let member = self.to.clone();
            return Err(DriftMiss::Taken { pointer, member });
        }
        *object = std::mem::take(object)
            .into_iter()
            .map(|(known, value)| {
                let known = if known == name {
                    self.to.clone()
                } else {
                    known
                };
                (known, value)
            })
            .collect();
        Ok(())
    }

    fn inverse(&self, pointer: &str, _before: &Value) -> Option<(String, Change)> {
        let (parent, to) = pointer::split(pointer)?;
        Some((pointer::join(parent, &self.to), Self { to }.into()))
    }

    fn place<'p>(&self, pointer: &'p str) -> &'p str {
        pointer::split(pointer).map_or("", |(parent, _)| parent)
    }
}
