//! A text with something in it that is no character.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::Pen;
use crate::drift::spot::DriftMiss;

/// Writes half of a pair of surrogates, as the escape `\ud800`, at the end of the text at the pointer.
/// Hostile.
///
/// # Source
/// RFC 8259 section 8.2: what a receiver does with it is unpredictable. RFC 7493 section 2.1: it must
/// not be sent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LoneSurrogate;

impl Kind for LoneSurrogate {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has the lone escape \\ud800 at the end of its text")
    }
}

impl Spelling for LoneSurrogate {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        let mark = pen.mark(pointer, "a text", Value::is_string)?;
        mark.in_text.extend(b"\\ud800");
        Ok(())
    }
}

/// Writes the byte 0xFF, which UTF-8 never has, at the end of the text at the pointer. Hostile.
///
/// # Source
/// RFC 8259 section 8.1: JSON is UTF-8; RFC 3629 section 3: 0xFF never appears.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InvalidUtf8;

impl Kind for InvalidUtf8 {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} has the byte 0xFF at the end of its text")
    }
}

impl Spelling for InvalidUtf8 {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        let mark = pen.mark(pointer, "a text", Value::is_string)?;
        mark.in_text.push(0xff);
        Ok(())
    }
}
