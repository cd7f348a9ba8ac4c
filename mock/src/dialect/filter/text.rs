//! Filters that give text.

use std::fmt::Write as _;

use minijinja::value::ValueKind;
use minijinja::{Error, Value};

use super::take::{self, count, refused, wrong};

filters!(text, ascii, shorten, senml_name);

/// Writes any value as text; text stays as it is.
fn text(value: &Value) -> Result<Value, Error> {
    match value.kind() {
        ValueKind::None | ValueKind::String => Ok(value.clone()),
        ValueKind::Number if take::number(value, "text")?.is_none() => Ok(Value::from(())),
        ValueKind::Number
        | ValueKind::Bool
        | ValueKind::Seq
        | ValueKind::Map
        | ValueKind::Iterable => serde_json::to_string(value)
            .map(Value::from)
            .map_err(|error| refused(format!("`text` cannot write this: {error}"))),
        _ => Err(wrong("text", "a value or null", value)),
    }
}

/// Replaces every character beyond ASCII.
fn ascii(value: &Value) -> Result<Value, Error> {
    let text = take::text(value, "ascii")?;
    Ok(text
        .map(|text| text.replace(|character: char| !character.is_ascii(), "?"))
        .into())
}

/// Keeps the first so many characters.
fn shorten(value: &Value, n: &Value) -> Result<Value, Error> {
    let most = count(n, "shorten", "n", 0..=1_000_000)?;
    let text = take::text(value, "shorten")?;
    Ok(text
        .map(|text| text.chars().take(most).collect::<String>())
        .into())
}

/// Spells text so that it can be a part of a SenML name, and no two texts alike.
///
/// Letters and digits of ASCII, `-` and `.` stay; `_` and the hexadecimal digits of it stand for every
/// other byte of UTF-8, `_` included. `/` and `:` are allowed in a name too, but hosts part names
/// with them.
///
/// # Source
/// RFC 8428 section 4.5.1 for the characters; the spelling is our own.
fn senml_name(value: &Value) -> Result<Value, Error> {
    let text = take::text(value, "senml_name")?;
    Ok(text.map(senml_spelling).into())
}

fn senml_spelling(text: &str) -> String {
    let mut spelled = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.') {
            spelled.push(char::from(byte));
        } else {
            // Writing to a string cannot fail.
            let _ = write!(spelled, "_{byte:02x}");
        }
    }
    spelled
}
