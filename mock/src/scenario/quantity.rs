//! The kinds of value a scenario's author writes: durations, temperatures, moments, counts and plain
//! numbers, each with its place in the file.

use std::borrow::Cow;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::value::MapAccessDeserializer;
use serde::de::{self, Deserialize, Deserializer, MapAccess, Visitor};
use toml::Spanned;

/// Is a value that knows its place.
#[derive(Debug, Clone, PartialEq, Eq, Hash, serde::Deserialize)]
#[serde(transparent)]
pub(super) struct At<T>(Spanned<T>);

impl<T> At<T> {
    /// Gives the value.
    pub(super) fn get(&self) -> &T {
        self.0.get_ref()
    }

    /// Gives the byte at which it stands.
    pub(super) fn place(&self) -> usize {
        self.0.span().start
    }
}

impl<T: JsonSchema> JsonSchema for At<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        generator.subschema_for::<T>()
    }
}

/// Is a number with a unit of its own.
pub(super) trait Quantity {
    /// Gives the bare number.
    fn number(&self) -> f64;
}

/// Gives a quantity its bare number, and its schema, which is written where it is used.
macro_rules! quantity {
    ($name:ident, $schema:tt) => {
        impl Quantity for $name {
            #[allow(
                clippy::cast_precision_loss,
                reason = "a count beyond 2^53 is outside its bound"
            )]
            fn number(&self) -> f64 {
                self.0 as f64
            }
        }

        impl JsonSchema for $name {
            fn inline_schema() -> bool {
                true
            }

            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!($schema)
            }
        }
    };
}

quantity!(Seconds, { "type": "string", "examples": ["1h20m", "90s"] });
quantity!(Degrees, { "type": "number" });
quantity!(Number, { "type": "number" });
quantity!(Count, { "type": "integer" });
quantity!(UnixSeconds, { "type": "string", "examples": ["2026-01-05T08:00:00Z"] });

/// Is a plain number; whole ones need no point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Number(pub(super) f64);

impl<'de> Deserialize<'de> for Number {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Any;
        impl Visitor<'_> for Any {
            type Value = Number;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number")
            }
            #[expect(
                clippy::cast_precision_loss,
                reason = "what is beyond 2^53 is outside every bound"
            )]
            fn visit_i64<E: de::Error>(self, number: i64) -> Result<Number, E> {
                Ok(Number(number as f64))
            }
            fn visit_f64<E: de::Error>(self, number: f64) -> Result<Number, E> {
                Ok(Number(number))
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<Number, E> {
                Err(E::custom(not_a_number(text)))
            }
        }
        deserializer.deserialize_any(Any)
    }
}

/// Says what is wrong with a number given as text; its unit is in the key's name already.
fn not_a_number(text: &str) -> String {
    match number_and_unit(text) {
        (Some(number), _) => format!("`\"{text}\"` is not a number [did you mean {number}?]"),
        (None, _) => format!("`\"{text}\"` is not a number"),
    }
}

/// Takes a text apart into a number, if it begins with one, and the rest.
fn number_and_unit(text: &str) -> (Option<f64>, &str) {
    let number_end = text
        .find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-' || c == '+'))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(number_end);
    (number.parse().ok(), unit.trim())
}

/// Is a whole number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Count(pub(super) i64);

impl<'de> Deserialize<'de> for Count {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Whole;
        impl Visitor<'_> for Whole {
            type Value = Count;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a whole number")
            }
            fn visit_i64<E: de::Error>(self, number: i64) -> Result<Count, E> {
                Ok(Count(number))
            }
        }
        deserializer.deserialize_any(Whole)
    }
}

/// Is a moment of the calendar: an RFC 3339 string, or the same without quotes, in seconds since
/// 1970-01-01T00:00:00Z.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct UnixSeconds(pub(super) f64);

impl<'de> Deserialize<'de> for UnixSeconds {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Moment;
        impl<'de> Visitor<'de> for Moment {
            type Value = UnixSeconds;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a date and time, such as \"2026-01-05T08:00:00Z\"")
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<UnixSeconds, E> {
                unix_s(text).map(UnixSeconds).ok_or_else(|| {
                    E::custom(format_args!(
                        "`{text}` is not a date, a time and an offset from UTC [write it as \"2026-01-05T08:00:00Z\"]"
                    ))
                })
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<UnixSeconds, A::Error> {
                // A date that stands without quotes comes as the TOML reader's own kind of map.
                let date = toml::value::Datetime::deserialize(MapAccessDeserializer::new(map))?;
                self.visit_str(&date.to_string())
            }
        }
        deserializer.deserialize_any(Moment)
    }
}

/// Reads an RFC 3339 date and time.
fn unix_s(text: &str) -> Option<f64> {
    let moment: jiff::Timestamp = text.trim().parse().ok()?;
    Some(moment.as_duration().as_secs_f64())
}

/// Writes a span of seconds as people write it; beyond a second to the millisecond.
pub(super) fn span_words(seconds: f64) -> String {
    let sign = if seconds < 0.0 { "-" } else { "" };
    let length_s = seconds.abs();
    let span = if length_s > 1.0 && length_s < 1e12 {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "below 1e15 ms; the fraction is what is to go"
        )]
        Ok(jiff::SignedDuration::from_millis(
            (length_s * 1000.0).round() as i64,
        ))
    } else {
        jiff::SignedDuration::try_from_secs_f64(length_s)
    };
    span.map_or_else(|_| format!("{seconds}s"), |span| format!("{sign}{span:#}"))
}

/// Is a duration as people write it (`1h20m`, `90s`, `1.5h`), in seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seconds(pub(super) f64);

impl<'de> Deserialize<'de> for Seconds {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Words;
        impl Visitor<'_> for Words {
            type Value = Seconds;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a duration with its unit, such as \"1h20m\" or \"90s\"")
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<Seconds, E> {
                parse_duration_s(text).map(Seconds).ok_or_else(|| {
                    E::custom(format_args!(
                        "`{text}` is not a duration [write it with units, such as \"1h20m\" or \"90s\"]"
                    ))
                })
            }
            fn visit_i64<E: de::Error>(self, number: i64) -> Result<Seconds, E> {
                Err(E::custom(format_args!(
                    "{number} has no unit [write \"{number}s\" or \"{number}m\"]"
                )))
            }
            fn visit_f64<E: de::Error>(self, number: f64) -> Result<Seconds, E> {
                Err(E::custom(format_args!(
                    "{number} has no unit [write \"{number}s\" or \"{number}m\"]"
                )))
            }
        }
        deserializer.deserialize_any(Words)
    }
}

/// Reads a duration as people write it and gives it in seconds; `None` if it is none.
pub(crate) fn parse_duration_s(text: &str) -> Option<f64> {
    let span: jiff::SignedDuration = text.trim().parse().ok()?;
    Some(span.as_secs_f64())
}

/// Is a temperature or temperature difference: a plain number, always Celsius or kelvin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Degrees(pub(super) f64);

impl<'de> Deserialize<'de> for Degrees {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Number;
        impl Visitor<'_> for Number {
            type Value = Degrees;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number in Celsius")
            }
            #[expect(
                clippy::cast_precision_loss,
                reason = "temperatures are far below 2^53"
            )]
            fn visit_i64<E: de::Error>(self, number: i64) -> Result<Degrees, E> {
                Ok(Degrees(number as f64))
            }
            fn visit_f64<E: de::Error>(self, number: f64) -> Result<Degrees, E> {
                Ok(Degrees(number))
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<Degrees, E> {
                Err(E::custom(wrong_unit(text)))
            }
        }
        deserializer.deserialize_any(Number)
    }
}

/// Says what is wrong with a temperature given as text, and what number would be right.
fn wrong_unit(text: &str) -> String {
    let (number, unit) = number_and_unit(text);
    let celsius = number.and_then(|value| match unit.trim_start_matches('°') {
        "C" | "c" | "" => Some(value),
        "F" | "f" => Some((value - 32.0) / 1.8),
        "K" => Some(value - 273.15),
        _ => None,
    });
    match celsius {
        Some(value) => format!(
            "`\"{text}\"` is not a number in Celsius [did you mean {}?]",
            (value * 10.0).round() / 10.0
        ),
        None => format!("`\"{text}\"` is not a number in Celsius"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_durations_as_people_write_them() {
        for (text, seconds) in [
            ("1h20m", 4800.0),
            ("1h 20m", 4800.0),
            ("90s", 90.0),
            ("1.5h", 5400.0),
            ("250ms", 0.25),
            ("2 hours", 7200.0),
        ] {
            assert_eq!(parse_duration_s(text), Some(seconds), "{text}");
        }
    }

    #[test]
    fn rejects_what_is_no_duration() {
        for text in ["", "90", "soon", "1h20", "5 parsecs"] {
            assert_eq!(parse_duration_s(text), None, "{text}");
        }
    }

    #[test]
    fn tells_the_celsius_value_of_another_unit() {
        assert_eq!(
            wrong_unit("410 F"),
            "`\"410 F\"` is not a number in Celsius [did you mean 210?]"
        );
        assert_eq!(
            wrong_unit("483.15K"),
            "`\"483.15K\"` is not a number in Celsius [did you mean 210?]"
        );
        assert_eq!(wrong_unit("hot"), "`\"hot\"` is not a number in Celsius");
    }
}
