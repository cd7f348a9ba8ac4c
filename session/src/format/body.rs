//! Bytes as a file of text can hold them.

use bytes::Bytes;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Is a run of bytes: as text where it is UTF-8, else in base64 (RFC 4648 section 4), or only how many
/// there were where a limit or a secret kept them out of the file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Body {
    /// The text.
    Text(String),
    /// Base64 of the bytes.
    #[serde(with = "in_base64")]
    #[schemars(with = "String")]
    Base64(Bytes),
    /// They are not in the file.
    Withheld(Withheld),
}

/// Says why bytes are not in the file, and how many they were.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Withheld {
    /// How many bytes there were.
    pub bytes: u64,
    /// Why, for a person.
    pub reason: String,
}

impl Body {
    /// Gives the bytes; what was withheld is as many spaces, which no reader of JSON takes for a value.
    ///
    /// At most `limit` bytes are made up for what was withheld.
    pub fn bytes(&self, limit: usize) -> Bytes {
        match self {
            Self::Text(text) => Bytes::copy_from_slice(text.as_bytes()),
            Self::Base64(bytes) => bytes.clone(),
            Self::Withheld(withheld) => {
                let length = usize::try_from(withheld.bytes).unwrap_or(usize::MAX);
                vec![b' '; length.min(limit)].into()
            }
        }
    }

    /// Gives the text, if it is text.
    pub fn text(&self) -> Option<&str> {
        match self {
            Self::Text(text) => Some(text),
            Self::Base64(_) | Self::Withheld(_) => None,
        }
    }

    /// Gives how many bytes it was on the wire.
    pub fn len(&self) -> u64 {
        match self {
            Self::Text(text) => text.len() as u64,
            Self::Base64(bytes) => bytes.len() as u64,
            Self::Withheld(withheld) => withheld.bytes,
        }
    }

    /// Tells whether there was nothing.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

impl Default for Body {
    fn default() -> Self {
        Self::Text(String::new())
    }
}

impl From<Bytes> for Body {
    fn from(bytes: Bytes) -> Self {
        match std::str::from_utf8(&bytes) {
            Ok(text) => Self::Text(text.to_owned()),
            Err(_not_text) => Self::Base64(bytes),
        }
    }
}

impl From<&str> for Body {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

mod in_base64 {
    use base64::Engine as _;
    use base64::engine::general_purpose::STANDARD;
    use bytes::Bytes;
    use serde::{Deserialize, Deserializer, Serializer, de};

    pub(super) fn serialize<S: Serializer>(
        bytes: &Bytes,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&STANDARD.encode(bytes))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Bytes, D::Error> {
        let text = String::deserialize(deserializer)?;
        STANDARD
            .decode(text)
            .map(Bytes::from)
            .map_err(|error| de::Error::custom(format!("no base64 (RFC 4648 section 4): {error}")))
    }
}
