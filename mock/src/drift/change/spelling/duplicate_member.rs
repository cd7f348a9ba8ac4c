//! A name that is there twice.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::Pen;
use crate::drift::spot::DriftMiss;
use crate::pointer;

/// Writes a member of the object at the pointer a second time, with another value. Hostile.
///
/// # Source
/// RFC 8259 section 4: with names that are not unique, what a receiver does is unpredictable. RFC
/// 7493 section 2.3: names must not be repeated.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct DuplicateMember {
    /// The name that the object has already.
    pub member: String,
    /// The value it has the second time.
    pub value: Value,
    /// Where the second one stands.
    pub position: Position,
}

/// Says where the second member of a name stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Position {
    /// Before all others: most parsers then keep the old value.
    First,
    /// After all others: most parsers then keep the new value.
    Last,
}

impl Kind for DuplicateMember {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        let Self { member, value, .. } = self;
        let position = match self.position {
            Position::First => "first",
            Position::Last => "last",
        };
        format!("{place} has `{member}` twice, with the value {value} as its {position} member")
    }
}

impl Spelling for DuplicateMember {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.mark(pointer, "an object", Value::is_object)?;
        pen.value(&pointer::join(pointer, &self.member))?;
        let mark = pen.mark_any(pointer)?;
        let members = match self.position {
            Position::First => &mut mark.first,
            Position::Last => &mut mark.last,
        };
        members.push((self.member.clone(), self.value.to_string().into_bytes()));
        Ok(())
    }
}
