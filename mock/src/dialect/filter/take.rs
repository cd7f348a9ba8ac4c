//! What all filters share: taking values and arguments, and giving numbers.

use std::ops::RangeInclusive;

use minijinja::{Error, ErrorKind, Value};

/// Says that a filter was given something it does not take.
pub(super) fn wrong(filter: &str, takes: &str, instead: &Value) -> Error {
    let given = match instead.kind() {
        // The number itself says more than that it is one.
        minijinja::value::ValueKind::Number => instead.to_string(),
        kind => kind.to_string(),
    };
    refused(format!("`{filter}` takes {takes}, not {given}"))
}

/// Says that something is refused.
pub(super) fn refused(why: String) -> Error {
    Error::new(ErrorKind::InvalidOperation, why)
}

/// Gives the number, or nothing for null and for a number JSON cannot write (RFC 8259 section 6).
pub(super) fn number(value: &Value, filter: &str) -> Result<Option<f64>, Error> {
    if value.is_none() {
        return Ok(None);
    }
    if !value.is_number() {
        return Err(wrong(filter, "a number or null", value));
    }
    let number = f64::try_from(value.clone())?;
    Ok(number.is_finite().then_some(number))
}

/// Gives the text, or nothing for null.
pub(super) fn text<'v>(value: &'v Value, filter: &str) -> Result<Option<&'v str>, Error> {
    match value.as_str() {
        Some(text) => Ok(Some(text)),
        None if value.is_none() => Ok(None),
        None => Err(wrong(filter, "text or null", value)),
    }
}

/// Gives an argument that has to be a number.
pub(super) fn argument(value: &Value, filter: &str, name: &str) -> Result<f64, Error> {
    let takes = || wrong(filter, &format!("a number as `{name}`"), value);
    if !value.is_number() {
        return Err(takes());
    }
    let number = f64::try_from(value.clone())?;
    if number.is_finite() {
        Ok(number)
    } else {
        Err(takes())
    }
}

/// Gives an argument that has to be an integer of a range.
pub(super) fn count(
    value: &Value,
    filter: &str,
    name: &str,
    range: RangeInclusive<usize>,
) -> Result<usize, Error> {
    let count = value.is_integer().then(|| value.as_usize()).flatten();
    count.filter(|count| range.contains(count)).ok_or_else(|| {
        let (low, high) = (range.start(), range.end());
        let takes = format!("an integer from {low} to {high} as `{name}`");
        wrong(filter, &takes, value)
    })
}

/// Gives an integer, if the value is one and no larger than integers of 64 bits.
pub(super) fn integer(value: &Value) -> Option<i64> {
    value.is_integer().then(|| value.as_i64()).flatten()
}

/// Writes a number with a decimal point; null for one that JSON cannot write.
pub(super) fn float(number: Option<f64>) -> Value {
    number
        .filter(|number| number.is_finite())
        // `+ 0.0` turns -0.0 into 0.0.
        .map_or(Value::from(()), |number| Value::from(number + 0.0))
}

/// Writes a number without a decimal point; it must be whole.
pub(super) fn whole(number: Option<f64>) -> Value {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "saturates, and no truth is near 2^63"
    )]
    number.map_or(Value::from(()), |number| Value::from(number as i64))
}

/// Turns seconds into microseconds; nothing if there are too many for 64 bits.
///
/// Sums of control periods end in 0.9999999 now and then, and a fraction cut off from that would be
/// off by one. A double counts the seconds of this century to a quarter of a microsecond.
pub(super) fn micros(seconds: f64) -> Option<i64> {
    let micros = (seconds * 1e6).round();
    #[expect(clippy::cast_possible_truncation, reason = "within its range")]
    (micros.abs() < 9e18).then_some(micros as i64)
}
