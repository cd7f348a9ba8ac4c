//! A member that nobody told the client about.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::Kind;
use crate::drift::spot::{DriftMiss, Spot};

/// Adds a member to the object at the pointer, after the others.
///
/// # Source
/// RFC 7493 section 4.2: a receiver ignores members it does not know.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AddMember {
    /// The member's name.
    pub member: String,
    /// Its value.
    pub value: Value,
}

impl Kind for AddMember {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let pointer = spot.pointer();
        let object = spot.object()?;
        if object.contains_key(&self.member) {
            let member = self.member.clone();
            return Err(DriftMiss::Taken { pointer, member });
        }
        object.insert(self.member.clone(), self.value.clone());
        Ok(())
    }

    fn explain(&self, place: &str) -> String {
        let Self { member, value } = self;
        format!("{place} has one more member, `{member}`, with the value {value}")
    }
}
