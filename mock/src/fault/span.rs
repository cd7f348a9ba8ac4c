//! Lengths of time as people write them.

use std::borrow::Cow;
use std::fmt;
use std::time::Duration;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// Is a length of time; in files and on the wire a text such as `90s` or `250ms`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Span(pub Duration);

impl Span {
    /// Is no time.
    pub const ZERO: Self = Self(Duration::ZERO);

    /// The longest that is taken: 100 days.
    ///
    /// Chosen: longer than any print, short enough that no sum of such spans overflows.
    pub const LONGEST: Self = Self(Duration::from_secs(100 * 24 * 3600));

    /// Makes a span of so many milliseconds.
    pub const fn from_millis(millis: u64) -> Self {
        Self(Duration::from_millis(millis))
    }

    /// Makes a span of so many seconds.
    pub const fn from_secs(seconds: u64) -> Self {
        Self(Duration::from_secs(seconds))
    }

    /// Tells whether it is no time.
    pub fn is_zero(&self) -> bool {
        self.0.is_zero()
    }
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match jiff::SignedDuration::try_from(self.0) {
            Ok(span) => write!(f, "{span:#}"),
            Err(_) => write!(f, "{:?}", self.0),
        }
    }
}

impl Serialize for Span {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Span {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Words)
    }
}

struct Words;

impl de::Visitor<'_> for Words {
    type Value = Span;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a duration with its unit, such as \"90s\" or \"250ms\"")
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<Span, E> {
        let span: jiff::SignedDuration = text.trim().parse().map_err(|_| {
            E::custom(format_args!(
                "`{text}` is not a duration [write it with units, such as \"90s\" or \"250ms\"]"
            ))
        })?;
        let span = Duration::try_from(span)
            .map_err(|_| E::custom(format_args!("`{text}` is less than nothing")))?;
        if span > Span::LONGEST.0 {
            let longest = Span::LONGEST;
            return Err(E::custom(format_args!("`{text}` is more than {longest}")));
        }
        Ok(Span(span))
    }

    fn visit_i64<E: de::Error>(self, number: i64) -> Result<Span, E> {
        Err(no_unit(number))
    }

    fn visit_u64<E: de::Error>(self, number: u64) -> Result<Span, E> {
        Err(no_unit(number))
    }

    fn visit_f64<E: de::Error>(self, number: f64) -> Result<Span, E> {
        Err(no_unit(number))
    }
}

fn no_unit<E: de::Error>(number: impl fmt::Display) -> E {
    E::custom(format_args!(
        "{number} has no unit [write \"{number}s\" or \"{number}ms\"]"
    ))
}

impl JsonSchema for Span {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Span".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "examples": ["90s", "250ms"] })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::json;

    use super::*;

    #[test]
    fn what_is_no_length_of_time_is_refused_with_what_to_write() {
        for (given, told) in [
            (json!(90), "90 has no unit [write \"90s\" or \"90ms\"]"),
            (json!(0.5), "0.5 has no unit [write \"0.5s\" or \"0.5ms\"]"),
            (json!("soon"), "`soon` is not a duration"),
            (json!("-3s"), "`-3s` is less than nothing"),
            (json!("101d"), "`101d` is not a duration"),
            (json!("2401h"), "`2401h` is more than 2400h"),
        ] {
            let error = serde_json::from_value::<Span>(given).unwrap_err();
            assert!(error.to_string().starts_with(told), "{error}");
        }
    }

    proptest! {
        #[test]
        fn a_span_is_read_as_it_is_written(nanos in 0..=Span::LONGEST.0.as_nanos()) {
            let span = Span(Duration::from_nanos(u64::try_from(nanos).unwrap()));
            let text = serde_json::to_value(span).unwrap();
            prop_assert_eq!(serde_json::from_value::<Span>(text).unwrap(), span);
        }
    }
}
