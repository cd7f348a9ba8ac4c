//! A text with something in it that is no character.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::drift::DriftClass;
use crate::drift::change::{Kind, Spelling};
use crate::drift::pen::Pen;
use crate::drift::spot::DriftMiss;

/// Writes half of a pair of surrogates, as an escape such as `\ud800`, at the end of the text at the
/// pointer, or of the name of the member there. Hostile.
///
/// # Source
/// RFC 8259 section 8.2: what a receiver does with it is unpredictable, in names as in texts. RFC 7493
/// section 2.1: it must not be sent.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoneSurrogate {
    /// Which half. Default the high one.
    #[serde(default)]
    pub half: SurrogateHalf,
    /// Where it stands. Default in the text.
    #[serde(default)]
    pub place: SurrogatePlace,
}

/// Is half of a pair of surrogates (RFC 8259 section 7).
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SurrogateHalf {
    /// The first half, `\ud800`.
    #[default]
    High,
    /// The second half, `\udc00`.
    Low,
}

/// Says where half of a pair stands.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SurrogatePlace {
    /// At the end of the text at the pointer.
    #[default]
    Text,
    /// At the end of the name of the member at the pointer.
    Name,
}

impl SurrogateHalf {
    fn escape(self) -> &'static str {
        match self {
            Self::High => "\\ud800",
            Self::Low => "\\udc00",
        }
    }
}

impl Kind for LoneSurrogate {
    fn class(&self) -> DriftClass {
        DriftClass::Hostile
    }

    fn explain(&self, place: &str) -> String {
        let end = match self.place {
            SurrogatePlace::Text => "text",
            SurrogatePlace::Name => "name",
        };
        let escape = self.half.escape();
        format!("{place} has the lone escape {escape} at the end of its {end}")
    }
}

impl Spelling for LoneSurrogate {
    fn spell(&self, pen: &mut Pen<'_>, pointer: &str) -> Result<(), DriftMiss> {
        let more = match self.place {
            SurrogatePlace::Text => &mut pen.mark(pointer, "a text", Value::is_string)?.in_text,
            SurrogatePlace::Name => &mut pen.mark_member(pointer)?.in_name,
        };
        more.extend(self.half.escape().bytes());
        Ok(())
    }

    fn place<'p>(&self, pointer: &'p str) -> &'p str {
        match self.place {
            SurrogatePlace::Text => pointer,
            SurrogatePlace::Name => pointer.rsplit_once('/').map_or("", |(parent, _)| parent),
        }
    }
}

/// Writes the byte 0xFF, which UTF-8 never has, at the end of the text at the pointer. Hostile.
///
/// # Source
/// RFC 8259 section 8.1: JSON is UTF-8; RFC 3629 section 3: 0xFF never appears.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
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
