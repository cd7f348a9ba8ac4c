//! Characters written as escapes.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::Pen;
use crate::drift::spot::DriftMiss;

/// Writes every ASCII letter in the names and texts at the pointer as an escape: `\u0061` for `a`.
/// Compatible.
///
/// # Source
/// RFC 8259 section 7: any character may be escaped; section 8.3: names are compared unescaped.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EscapedNames;

impl Kind for EscapedNames {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has every ASCII letter of its names and texts as an escape")
    }
}

impl Spelling for EscapedNames {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.mark_any(pointer)?.letters_escaped = true;
        Ok(())
    }
}

/// Writes everything beyond ASCII in the names and texts at the pointer as escapes. Compatible.
///
/// # Source
/// RFC 8259 section 7: any character may be escaped, one beyond U+FFFF as a pair of surrogates.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NonAsciiEscaped;

impl Kind for NonAsciiEscaped {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has every character beyond ASCII as an escape")
    }
}

impl Spelling for NonAsciiEscaped {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.mark_any(pointer)?.non_ascii_escaped = true;
        Ok(())
    }
}
