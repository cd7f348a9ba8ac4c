//! Filters that give text.

use minijinja::value::ValueKind;
use minijinja::{Error, Value};

use super::take::{self, count, refused, wrong};

filters!(text, ascii, shorten);

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
