//! Places in the bytes of an answer.

use std::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Is a place in the bytes of an answer as they go out, behind so many of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Position {
    /// Before the first byte.
    #[default]
    Start,
    /// Behind so many bytes, the head included.
    Byte(u64),
    /// Behind the empty line that ends the head.
    HeadEnd,
    /// Behind so many bytes of the body as it goes out, so with the sizes of its chunks if it has any.
    BodyByte(u64),
}

impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Start => f.write_str("before the answer"),
            Self::Byte(count) => write!(f, "after {count} bytes of the answer"),
            Self::HeadEnd => f.write_str("after the head of the answer"),
            Self::BodyByte(count) => write!(f, "after {count} bytes of the body"),
        }
    }
}
