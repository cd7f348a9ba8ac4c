//! A larger body.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Change, Kind, RemoveMember, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};
use crate::pointer;

/// Adds a member to the object at the pointer, after the others, that is a long text. Compatible.
///
/// # Source
/// RFC 7493 section 4.2: a receiver ignores members it does not know. RFC 8259 section 9 lets a
/// parser limit the size: a client with little memory may then say that it does not know.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pad {
    /// The member's name.
    pub member: String,
    /// The text's length: 16 MiB at most.
    pub bytes: u32,
}

const MOST_BYTES: u32 = 16 << 20;

impl Kind for Pad {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        let Self { member, bytes } = self;
        format!("{place} has one more member, `{member}`, with a text of {bytes} bytes")
    }
}

impl Shape for Pad {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        DriftMiss::check("bytes", self.bytes, MOST_BYTES)?;
        let text = "x".repeat(self.bytes as usize);
        spot.add(&self.member, Value::String(text))
    }

    fn inverse(&self, pointer: &str, _before: &Value) -> Option<(String, Change)> {
        Some((pointer::join(pointer, &self.member), RemoveMember.into()))
    }
}
