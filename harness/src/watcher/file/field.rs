//! Where a quantity stands: a place alone, or a table with more about it.

use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::value::MapAccessDeserializer;
use serde::de::{Error, MapAccess, Visitor};
use serde::{Deserialize, Deserializer};

use crate::watcher::form::{Unit, Word};

/// Is a place with what else is to be said of it, which is not there where the place stands alone.
#[derive(Debug)]
pub(super) struct Field<T> {
    pub(super) at: String,
    pub(super) more: Option<T>,
}

/// Is a table that has a place.
pub(super) trait Placed {
    /// Takes the place out.
    fn take_at(&mut self) -> String;
}

/// A place in a line, and what says there that the watcher does not know.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Plain {
    /// A JSON Pointer (RFC 6901) into the line's object, or the name of a group of a pattern.
    at: String,
    /// Texts and values that say that the watcher does not know it, beside those for every field.
    #[serde(default)]
    pub(super) unknown: Vec<WordOfFile>,
}

/// A place in a line with the unit of the number that stands there.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Numeric<U> {
    /// A JSON Pointer (RFC 6901) into the line's object, or the name of a group of a pattern.
    at: String,
    /// The unit in which the number is shown.
    pub(super) unit: Option<U>,
    /// Texts and values that say that the watcher does not know it, beside those for every field.
    #[serde(default)]
    pub(super) unknown: Vec<WordOfFile>,
}

/// A place in a line with the words that say on and off.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Switch {
    /// A JSON Pointer (RFC 6901) into the line's object, or the name of a group of a pattern.
    at: String,
    /// The watcher's words. Default `true` and `on`, `false` and `off`.
    pub(super) words: Option<OnOff>,
    /// Texts and values that say that the watcher does not know it, beside those for every field.
    #[serde(default)]
    pub(super) unknown: Vec<WordOfFile>,
}

/// The words for on and off.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct OnOff {
    /// Texts and values that say on.
    #[serde(rename = "true")]
    pub(super) on: Vec<WordOfFile>,
    /// Texts and values that say off.
    #[serde(rename = "false")]
    pub(super) off: Vec<WordOfFile>,
}

impl Placed for Plain {
    fn take_at(&mut self) -> String {
        std::mem::take(&mut self.at)
    }
}

impl<U> Placed for Numeric<U> {
    fn take_at(&mut self) -> String {
        std::mem::take(&mut self.at)
    }
}

impl Placed for Switch {
    fn take_at(&mut self) -> String {
        std::mem::take(&mut self.at)
    }
}

impl<'de, T: Deserialize<'de> + Placed> Deserialize<'de> for Field<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either<T>(PhantomData<T>);

        impl<'de, T: Deserialize<'de> + Placed> Visitor<'de> for Either<T> {
            type Value = Field<T>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a place in quotes, or a table with `at`")
            }

            fn visit_str<E: Error>(self, at: &str) -> Result<Self::Value, E> {
                Ok(Field {
                    at: at.to_owned(),
                    more: None,
                })
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
                let mut more = T::deserialize(MapAccessDeserializer::new(map))?;
                Ok(Field {
                    at: more.take_at(),
                    more: Some(more),
                })
            }
        }

        deserializer.deserialize_any(Either(PhantomData))
    }
}

impl<T: JsonSchema> JsonSchema for Field<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let table = generator.subschema_for::<T>();
        json_schema!({ "anyOf": [{ "type": "string" }, table] })
    }
}

/// Is a word of the file: text, a number, or true or false.
#[derive(Debug, Clone)]
pub(super) struct WordOfFile(pub(super) Word);

impl<'de> Deserialize<'de> for WordOfFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct AnyWord;

        impl Visitor<'_> for AnyWord {
            type Value = WordOfFile;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a text, a number, true or false")
            }

            fn visit_str<E: Error>(self, text: &str) -> Result<Self::Value, E> {
                Ok(WordOfFile(Word::Text(text.to_owned())))
            }

            fn visit_bool<E: Error>(self, flag: bool) -> Result<Self::Value, E> {
                Ok(WordOfFile(Word::Flag(flag)))
            }

            fn visit_i64<E: Error>(self, number: i64) -> Result<Self::Value, E> {
                // Codes are small; a number that a float cannot hold is compared as the nearest.
                #[expect(clippy::cast_precision_loss, reason = "see above")]
                let number = number as f64;
                Ok(WordOfFile(Word::Number(number)))
            }

            fn visit_f64<E: Error>(self, number: f64) -> Result<Self::Value, E> {
                if number.is_finite() {
                    Ok(WordOfFile(Word::Number(number)))
                } else {
                    Err(E::custom("a number has an end"))
                }
            }
        }

        deserializer.deserialize_any(AnyWord)
    }
}

impl JsonSchema for WordOfFile {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Word".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["string", "number", "boolean"] })
    }
}

/// A unit of a share.
#[derive(Debug, Clone, Copy, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum ShareUnit {
    /// 0 to 100.
    Percent,
    /// 0 to 1.
    Ratio,
}

/// A unit of a temperature.
#[derive(Debug, Clone, Copy, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum TemperatureUnit {
    /// Degrees Celsius.
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
    /// Kelvin.
    Kelvin,
}

/// A unit of a time, or a way of writing one.
#[derive(Debug, Clone, Copy, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum TimeUnit {
    /// Milliseconds.
    Milliseconds,
    /// Seconds.
    Seconds,
    /// Minutes.
    Minutes,
    /// Hours.
    Hours,
    /// Text such as `1:07:30`.
    #[serde(rename = "h:mm:ss")]
    HoursMinutesSeconds,
    /// Text such as `1:07`, hours and minutes.
    #[serde(rename = "h:mm")]
    HoursMinutes,
    /// Text such as `67:30`, minutes and seconds.
    #[serde(rename = "m:ss")]
    MinutesSeconds,
    /// Text with numbers and their units, such as `1h 7m` or `2 days 3 hours`.
    Span,
}

impl From<Option<ShareUnit>> for Unit {
    fn from(unit: Option<ShareUnit>) -> Self {
        match unit {
            None | Some(ShareUnit::Percent) => Self::Percent,
            Some(ShareUnit::Ratio) => Self::Ratio,
        }
    }
}

impl From<Option<TemperatureUnit>> for Unit {
    fn from(unit: Option<TemperatureUnit>) -> Self {
        match unit {
            None | Some(TemperatureUnit::Celsius) => Self::Celsius,
            Some(TemperatureUnit::Fahrenheit) => Self::Fahrenheit,
            Some(TemperatureUnit::Kelvin) => Self::Kelvin,
        }
    }
}

impl From<Option<TimeUnit>> for Unit {
    fn from(unit: Option<TimeUnit>) -> Self {
        match unit {
            Some(TimeUnit::Milliseconds) => Self::Milliseconds,
            None | Some(TimeUnit::Seconds) => Self::Seconds,
            Some(TimeUnit::Minutes) => Self::Minutes,
            Some(TimeUnit::Hours) => Self::Hours,
            Some(TimeUnit::HoursMinutesSeconds) => Self::HoursMinutesSeconds,
            Some(TimeUnit::HoursMinutes) => Self::HoursMinutes,
            Some(TimeUnit::MinutesSeconds) => Self::MinutesSeconds,
            Some(TimeUnit::Span) => Self::Span,
        }
    }
}
