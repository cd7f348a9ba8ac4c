//! White space between the tokens.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::{Layout, Pen};
use crate::drift::spot::DriftMiss;

/// Writes what is at the pointer with a line for each member and element. Compatible.
///
/// # Source
/// RFC 8259 section 2: white space is allowed before and after every structural character.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct Indented {
    /// How many spaces each level is indented by.
    pub spaces: u8,
}

impl Kind for Indented {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!(
            "{place} has a line for each member, indented by {} spaces",
            self.spaces
        )
    }
}

impl Spelling for Indented {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        let layout = Layout::Indented(usize::from(self.spaces));
        pen.mark_any(pointer)?.layout = Some(layout);
        Ok(())
    }
}

/// Writes what is at the pointer with white space around every structural character. Compatible.
///
/// # Source
/// RFC 8259 section 2: the four kinds of white space.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, expecting = "a table of parameters")]
pub struct Spaced {
    /// The white space.
    pub blank: Blank,
}

/// Is a kind of white space.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Blank {
    /// U+0020.
    Space,
    /// U+0009.
    Tab,
    /// U+000A.
    LineFeed,
    /// U+000D.
    CarriageReturn,
}

impl Blank {
    fn byte(self) -> u8 {
        match self {
            Self::Space => b' ',
            Self::Tab => b'\t',
            Self::LineFeed => b'\n',
            Self::CarriageReturn => b'\r',
        }
    }

    fn name(self) -> &'static str {
        match self {
            Self::Space => "space",
            Self::Tab => "tab",
            Self::LineFeed => "line feed",
            Self::CarriageReturn => "carriage return",
        }
    }
}

impl Kind for Spaced {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!(
            "{place} has a {} around every bracket, colon and comma",
            self.blank.name()
        )
    }
}

impl Spelling for Spaced {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        pen.mark_any(pointer)?.layout = Some(Layout::Spaced(self.blank.byte()));
        Ok(())
    }
}
