//! A body that is not all there.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::body_with;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::{Edit, Pen};
use crate::drift::spot::DriftMiss;
use crate::drift::{Drift, DriftClass};

/// Keeps only the first bytes of a body that has the pointer; the length is told as it then is.
/// Hostile.
///
/// # Source
/// RFC 8259 section 2: a JSON text is one whole value. An object's or array's beginning never is one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct Truncated {
    /// How many are kept.
    pub bytes: u32,
}

impl Truncated {
    /// Gives one drift for every byte that a body can end before, from none of them on: the body as
    /// it is usually written. Each has a name of its own, such as `truncated-17`.
    pub fn sweep(body: &Value) -> impl Iterator<Item = Drift> + use<> {
        let length = u32::try_from(body.to_string().len()).unwrap_or(u32::MAX);
        (0..length).map(|bytes| Drift {
            name: format!("truncated-{bytes}"),
            ..Drift::of("", Self { bytes })
        })
    }
}

impl Kind for Truncated {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        let body = body_with(place);
        format!("{body} ends after {} bytes", self.bytes)
    }
}

impl Spelling for Truncated {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.edit(pointer, Edit::Keep(self.bytes as usize))
    }

    fn place<'p>(&self, _pointer: &'p str) -> &'p str {
        ""
    }
}

/// Keeps nothing of a body that has the pointer. Breaking.
///
/// # Source
/// RFC 8259 section 2: a JSON text has a value; nothing is not one. RFC 9110 section 15.3.1: the
/// content of a 200 to GET is a representation of the target, so an empty one is no state of the printer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EmptyBody;

impl Kind for EmptyBody {
    fn class(&self) -> DriftClass {
        DriftClass::Breaking
    }

    fn explain(&self, place: &str) -> String {
        format!("{} is empty", body_with(place))
    }
}

impl Spelling for EmptyBody {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.edit(pointer, Edit::Keep(0))
    }

    fn place<'p>(&self, _pointer: &'p str) -> &'p str {
        ""
    }
}
