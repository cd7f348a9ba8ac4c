//! JSON text as a tree in which every string knows its line.

use std::cell::Cell;
use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};

use super::error::DialectProblem;

/// Is a JSON value as written: members in order, none lost, strings with their line.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Json {
    /// Null, a boolean or a number.
    Plain(serde_json::Value),
    /// A string.
    String(Line<String>),
    /// An array.
    Array(Vec<Json>),
    /// An object.
    Object(Vec<(Line<String>, Json)>),
}

/// Is something with the line it stands on, counted from 0 inside its text.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line<T> {
    pub(super) value: T,
    pub(super) line: usize,
}

/// Reads JSON text.
///
/// # Errors
/// The line inside the text, and what is wrong there.
pub(super) fn parse(text: &str) -> Result<Json, (usize, DialectProblem)> {
    let lines = string_lines(text);
    let seed = Seed {
        lines: &lines,
        next: &Cell::new(0),
    };
    let mut reader = serde_json::Deserializer::from_str(text);
    seed.deserialize(&mut reader)
        .and_then(|json| reader.end().map(|()| json))
        .map_err(|error| {
            // The line of the file is told elsewhere; the library's own counts from the body's.
            let message = error.to_string();
            let end = message.find(" at line ").unwrap_or(message.len());
            let message = message[..end].to_owned();
            (
                error.line().saturating_sub(1),
                DialectProblem::Json { message },
            )
        })
}

/// Gives the line of every string token, in the order of the text.
///
/// The reader visits strings in that same order, which is how each gets its line.
fn string_lines(text: &str) -> Vec<usize> {
    let mut lines = Vec::new();
    let mut line = 0;
    let mut inside = false;
    let mut escaped = false;
    for byte in text.bytes() {
        match byte {
            b'\n' => line += 1,
            _ if escaped => escaped = false,
            b'\\' if inside => escaped = true,
            b'"' => {
                if !inside {
                    lines.push(line);
                }
                inside = !inside;
            }
            _ => {}
        }
    }
    lines
}

#[derive(Clone, Copy)]
struct Seed<'a> {
    lines: &'a [usize],
    next: &'a Cell<usize>,
}

impl Seed<'_> {
    fn located(self, value: String) -> Line<String> {
        let index = self.next.get();
        self.next.set(index + 1);
        Line {
            value,
            line: self.lines.get(index).copied().unwrap_or_default(),
        }
    }
}

impl<'de> DeserializeSeed<'de> for Seed<'_> {
    type Value = Json;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Json, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Seed<'_> {
    type Value = Json;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }
    fn visit_unit<E>(self) -> Result<Json, E> {
        Ok(Json::Plain(serde_json::Value::Null))
    }
    fn visit_bool<E>(self, value: bool) -> Result<Json, E> {
        Ok(Json::Plain(value.into()))
    }
    fn visit_i64<E>(self, value: i64) -> Result<Json, E> {
        Ok(Json::Plain(value.into()))
    }
    fn visit_u64<E>(self, value: u64) -> Result<Json, E> {
        Ok(Json::Plain(value.into()))
    }
    fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Json, E> {
        serde_json::Number::from_f64(value)
            .map(|number| Json::Plain(number.into()))
            .ok_or_else(|| E::custom("number out of range"))
    }
    fn visit_str<E>(self, value: &str) -> Result<Json, E> {
        Ok(Json::String(self.located(value.to_owned())))
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Json, A::Error> {
        let mut array = Vec::new();
        while let Some(item) = items.next_element_seed(self)? {
            array.push(item);
        }
        Ok(Json::Array(array))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Json, A::Error> {
        let mut object = Vec::new();
        while let Some(key) = members.next_key_seed(self)? {
            let Json::String(key) = key else {
                return Err(A::Error::custom("member name is not a string"));
            };
            object.push((key, members.next_value_seed(self)?));
        }
        Ok(Json::Object(object))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_string_knows_its_line_also_after_escaped_quotes() {
        let text = "{\n \"a\\\"b\": \"x\",\n \"c\": [\n \"y\"]}";
        let Json::Object(members) = parse(text).unwrap() else {
            panic!("not an object")
        };
        assert_eq!(members[0].0.line, 1);
        assert_eq!(members[0].0.value, "a\"b");
        assert_eq!(members[1].0.line, 2);
        let Json::Array(items) = &members[1].1 else {
            panic!("not an array")
        };
        let Json::String(y) = &items[0] else {
            panic!("not a string")
        };
        assert_eq!(y.line, 3);
    }

    #[test]
    fn names_the_line_of_a_slip() {
        let (line, problem) = parse("{\n \"a\": 1,\n}").unwrap_err();
        assert_eq!(line, 2);
        assert!(problem.to_string().starts_with("not JSON: "), "{problem}");
    }

    #[test]
    fn text_after_the_value_is_not_json() {
        assert!(parse("{} x").is_err());
    }
}
