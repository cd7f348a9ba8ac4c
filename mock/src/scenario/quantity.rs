//! The two kinds of quantity a scenario's author writes: durations and temperatures.

use std::fmt;

use serde::de::{self, Deserialize, Deserializer, Visitor};

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
    let number_end = text
        .find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-' || c == '+'))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(number_end);
    let unit = unit.trim().trim_start_matches('°');
    let celsius = number.parse::<f64>().ok().and_then(|value| match unit {
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
