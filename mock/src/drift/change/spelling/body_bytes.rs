//! A body that is not all there.

use serde::{Deserialize, Serialize};

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::{Edit, Pen};
use crate::drift::spot::DriftMiss;

/// Keeps only the first bytes of a body that has the pointer; the length is told as it then is.
/// Hostile.
///
/// # Source
/// RFC 8259 section 2: a JSON text is one whole value. An object's or array's beginning never is one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Truncated {
    /// How many are kept.
    pub bytes: u32,
}

impl Kind for Truncated {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        format!("the body with {place} ends after {} bytes", self.bytes)
    }
}

impl Spelling for Truncated {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.edit(pointer, Edit::Keep(self.bytes as usize))
    }
}

/// Keeps nothing of a body that has the pointer. Hostile.
///
/// # Source
/// RFC 8259 section 2: a JSON text has a value; nothing is not one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EmptyBody;

impl Kind for EmptyBody {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        format!("the body with {place} is empty")
    }
}

impl Spelling for EmptyBody {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.edit(pointer, Edit::Keep(0))
    }
}
