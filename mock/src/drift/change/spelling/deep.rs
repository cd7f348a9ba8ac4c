//! A member that is deeper than many parsers go.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::Pen;
use crate::drift::spot::DriftMiss;

/// Writes a member after the others of the object at the pointer that is arrays within arrays.
/// Hostile.
///
/// # Source
/// RFC 8259 section 9: a parser may set limits on the depth of nesting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct Deep {
    /// The member's name.
    pub member: String,
    /// How many arrays are within each other: `10_000`; a million at most.
    pub levels: u32,
}

const MOST_LEVELS: u32 = 1_000_000;

impl Kind for Deep {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        let Self { member, levels } = self;
        format!("{place} has one more member, `{member}`, with {levels} arrays within each other")
    }

    fn check(&self) -> Result<(), DriftMiss> {
        DriftMiss::check("levels", self.levels, MOST_LEVELS)
    }
}

impl Spelling for Deep {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        if pen.value(pointer)?.get(&self.member).is_some() {
            return Err(DriftMiss::Taken {
                pointer: pointer.to_owned(),
                member: self.member.clone(),
            });
        }
        let mark = pen.mark(pointer, "an object", Value::is_object)?;
        let levels = self.levels as usize;
        let value = match levels {
            0 => b"null".to_vec(),
            _ => [b"[".repeat(levels), b"]".repeat(levels)].concat(),
        };
        mark.last.push((self.member.clone(), value));
        Ok(())
    }
}
