//! A byte order mark.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::body_with;
use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::{Edit, Pen};
use crate::drift::spot::DriftMiss;

/// Writes U+FEFF before a body that has the pointer. Hostile.
///
/// # Source
/// RFC 8259 section 8.1: a sender must not add one; a parser may ignore it instead of taking it for an
/// error.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ByteOrderMark;

impl Kind for ByteOrderMark {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        format!("{} begins with a byte order mark", body_with(place))
    }
}

impl Spelling for ByteOrderMark {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.edit(pointer, Edit::Before(b"\xef\xbb\xbf"))
    }

    fn place<'p>(&self, _pointer: &'p str) -> &'p str {
        ""
    }
}
