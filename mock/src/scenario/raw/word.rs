//! Words that are written as texts and in no other way.

/// Reads a list of words from a text only: as an enum, TOML would take a table of the word, too, which no
/// editor allows by the schema. The enum is derived with `remote = "Self"`.
macro_rules! read_as_word {
    ($($words:ty),+) => {
        $(impl<'de> serde::Deserialize<'de> for $words {
            fn deserialize<D: serde::Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
                let word = String::deserialize(reader)?;
                // The derived one, which is no trait's.
                Self::deserialize(serde::de::value::StringDeserializer::new(word))
            }
        })+
    };
}

pub(super) use read_as_word;
