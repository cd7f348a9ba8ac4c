//! Something else.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::Pen;
use crate::drift::spot::DriftMiss;

/// Writes any text instead of the value at the pointer: a page for people instead of the whole body,
/// `021` instead of a number. Hostile, or breaking if it is JSON.
///
/// What stands around it is not looked at: nothing at all instead of an array's only element is JSON
/// again, and so is `1,2`.
///
/// # Source
/// RFC 8259 section 2: what a JSON text is; section 9: a parser must accept all of that, and nothing
/// else has to mean anything to it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct Garbage {
    /// What is written.
    pub text: String,
}

impl Kind for Garbage {
    fn class(&self) -> DriftClass {
        match serde_json::from_str::<Value>(&self.text) {
            Ok(_) => DriftClass::Breaking,
            Err(_) => DriftClass::Hostile,
        }
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} is {:?}", self.text)
    }
}

impl Spelling for Garbage {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.mark_any(pointer)?.instead = Some(self.text.clone().into_bytes());
        Ok(())
    }
}
