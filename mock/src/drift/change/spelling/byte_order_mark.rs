//! A byte order mark.

use serde::{Deserialize, Serialize};

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::{Edit, Pen};
use crate::drift::spot::DriftMiss;

/// Writes U+FEFF before a body that has the pointer. Hostile.
///
/// # Source
/// RFC 8259 section 8.1: a sender must not add one; a parser may ignore it instead of taking it for an
/// error.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ByteOrderMark;

impl Kind for ByteOrderMark {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        format!("the body with {place} begins with a byte order mark")
    }
}

impl Spelling for ByteOrderMark {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.edit(pointer, Edit::Before(b"\xef\xbb\xbf"))
    }
}
