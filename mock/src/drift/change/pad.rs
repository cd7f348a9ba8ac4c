//! A larger body.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Change, Kind, RemoveMember, Shape};
use crate::drift::DriftClass;
use crate::drift::spot::{DriftMiss, Spot};
use crate::pointer;

/// Adds a member to the object at the pointer, after the others, that is a long text. Compatible up to
/// 64 KiB, hostile beyond.
///
/// # Source
/// RFC 7493 section 4.2: a receiver ignores members it does not know. RFC 8259 section 9 lets a
/// parser limit the size of texts, and names no figure; where the classes part is chosen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct Pad {
    /// The member's name.
    pub member: String,
    /// The text's length: `20_000_000`; 32 MiB at most.
    pub bytes: u32,
}

const MOST_BYTES: u32 = 32 << 20;

/// What every client still has to read.
///
/// Chosen: a hundred times an ordinary body, and less than the memory of a small board.
const MOST_COMPATIBLE_BYTES: u32 = 64 << 10;

impl Kind for Pad {
    fn class(&self) -> DriftClass {
        if self.bytes <= MOST_COMPATIBLE_BYTES {
            DriftClass::Compatible
        } else {
            DriftClass::Hostile
        }
    }

    fn explain(&self, place: &str) -> String {
        let Self { member, bytes } = self;
        format!("{place} has one more member, `{member}`, with a text of {bytes} bytes")
    }

    fn check(&self) -> Result<(), DriftMiss> {
        DriftMiss::check("bytes", self.bytes, MOST_BYTES)
    }
}

impl Shape for Pad {
    fn apply(&self, spot: Spot<'_>) -> Result<(), DriftMiss> {
        let text = "x".repeat(self.bytes as usize);
        spot.add(&self.member, Value::String(text))
    }

    fn inverse(&self, pointer: &str, _before: &Value) -> Option<(String, Change)> {
        Some((pointer::join(pointer, &self.member), RemoveMember.into()))
    }
}
