//! Something that comes after the last thing.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::body_with;
use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::{Edit, Pen};
use crate::drift::spot::DriftMiss;

/// Writes a comma after the last member or element at the pointer. Hostile.
///
/// # Source
/// RFC 8259 sections 4 and 5: a comma stands between two.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrailingComma;

impl Kind for TrailingComma {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has a comma after its last member or element")
    }
}

impl Spelling for TrailingComma {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        let is_container = |value: &Value| value.is_object() || value.is_array();
        let mark = pen.mark(pointer, "an object or array", is_container)?;
        mark.trailing_comma = true;
        Ok(())
    }
}

/// Writes a text after a body that has the pointer. Hostile, or compatible if it is white space.
///
/// # Source
/// RFC 8259 section 2: a JSON text is one value with white space around it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct TrailingText {
    /// What is written.
    pub text: String,
}

impl Kind for TrailingText {
    fn class(&self) -> DriftClass {
        match self.text.trim_matches([' ', '\t', '\n', '\r']) {
            "" => DriftClass::Compatible,
            _ => DriftClass::Hostile,
        }
    }

    fn explain(&self, place: &str) -> String {
        format!("{} has {:?} after its end", body_with(place), self.text)
    }
}

impl Spelling for TrailingText {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.edit(pointer, Edit::After(self.text.clone().into_bytes()))
    }

    fn place<'p>(&self, _pointer: &'p str) -> &'p str {
        ""
    }
}
