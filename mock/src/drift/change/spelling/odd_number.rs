//! A number that is none, or that is too much for most programs.

use schemars::JsonSchema;
use serde::de::IgnoredAny;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::Pen;
use crate::drift::spot::DriftMiss;

/// Writes `NaN` instead of the number at the pointer. Hostile.
///
/// # Source
/// RFC 8259 section 6: Infinity and NaN are not permitted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NotANumber;

impl Kind for NotANumber {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} is NaN")
    }
}

impl Spelling for NotANumber {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        let mark = pen.mark(pointer, "a number", Value::is_number)?;
        mark.instead = Some(b"NaN".to_vec());
        Ok(())
    }
}

/// Writes a number of any size, precision or sign instead of the one at the pointer. Hostile.
///
/// # Source
/// RFC 8259 section 6: software may set limits on range and precision; `1E400` is its example, and the
/// grammar has `-0`. RFC 7493 section 2.2: nothing beyond what an IEEE double holds, such as
/// 9007199254740993 (2^53 + 1).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct HugeNumber {
    /// The number: `9007199254740993`, `1e400`, `-0`.
    pub text: String,
}

impl Kind for HugeNumber {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} is the number {}", self.text)
    }

    fn check(&self) -> Result<(), DriftMiss> {
        let text = &self.text;
        // Only the grammar is looked at; whether it fits anything is the point.
        let is_number = text.starts_with(|first: char| first == '-' || first.is_ascii_digit())
            && text.ends_with(|last: char| last.is_ascii_digit())
            && serde_json::from_str::<IgnoredAny>(text).is_ok();
        if is_number {
            return Ok(());
        }
        Err(DriftMiss::NoNumber { text: text.clone() })
    }
}

impl Spelling for HugeNumber {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        let mark = pen.mark(pointer, "a number", Value::is_number)?;
        mark.instead = Some(self.text.clone().into_bytes());
        Ok(())
    }
}
