//! A member in another place.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Change, Kind, ReplaceValue, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};
use crate::pointer;

/// Moves the member at the pointer to another object, after its members. Breaking.
///
/// # Source
/// Common practice: where a member stands is between host and client. RFC 8259 section 4: a member
/// belongs to its object, and one of the same name in another object is another. RFC 6902 section
/// 4.4: what a move is; nothing moves into itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct MoveMember {
    /// The new place, as a JSON Pointer; the object that gets the member is there already.
    pub to: String,
}

impl Kind for MoveMember {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has moved to {}", self.to)
    }

    fn check(&self) -> Result<(), DriftMiss> {
        if pointer::is_pointer(&self.to) {
            return Ok(());
        }
        Err(DriftMiss::NoPointer {
            pointer: self.to.clone(),
        })
    }
}

impl Shape for MoveMember {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let pointer = spot.pointer();
        let to = pointer::canonical(&self.to);
        if to.starts_with(&format!("{}/", pointer::canonical(&pointer))) {
            return Err(DriftMiss::IntoItself { pointer, to });
        }
        let Some((parent, member)) = pointer::split(&to) else {
            return Err(Spot::new(spot.body(), &to).wrong_kind("a member of an object"));
        };
        let body = spot.body();
        let target = Spot::new(body, parent).object()?;
        if target.contains_key(&member) {
            let pointer = parent.to_owned();
            return Err(DriftMiss::Taken { pointer, member });
        }
        let (source, name) = Spot::new(body, &pointer).member()?;
        let value = source.shift_remove(&name).unwrap_or_default();
        // Still there: only a member of an object was taken away, and not one above it.
        Spot::new(body, parent).add(&member, value)
    }

    /// Puts back the nearest thing that has both places, since a member that is moved comes last.
    fn inverse(&self, pointer: &str, before: &Value) -> Option<(String, Change)> {
        let (from, to) = (pointer::canonical(pointer), pointer::canonical(&self.to));
        let (from, _) = pointer::split(&from)?;
        let (to, _) = pointer::split(&to)?;
        let both = pointer::common(from, to);
        Some((both.to_owned(), ReplaceValue::old(both, before)?))
    }

    fn place<'p>(&self, pointer: &'p str) -> &'p str {
        let parent = |pointer: &'p str| pointer::split(pointer).map_or("", |(parent, _)| parent);
        let to = pointer::split(&self.to).map_or("", |(parent, _)| parent);
        pointer::common(parent(pointer), to)
    }
}
