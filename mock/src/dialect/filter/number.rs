//! Filters that calculate, and those that write a number as text.

use minijinja::{Error, Value};

use super::take::{self, argument, count, float, integer, number, refused};

filters!(
    round, whole, floor, ceil, scale, plus, minus, clamp, fixed, digits
);

/// The decimal places that a number of 64 bits has, more or less.
const MOST_PLACES: usize = 15;

/// Rounds to a number of decimal places, always as a number with a decimal point.
///
/// The library's own filter gives back an integer for an integer, and a field that is sometimes
/// `210` and sometimes `210.4` has two JSON spellings that clients in typed languages trip over.
fn round(value: &Value, places: Option<usize>) -> Result<Value, Error> {
    let places = places.unwrap_or(0).min(MOST_PLACES);
    Ok(float(
        number(value, "round")?.map(|number| rounded(number, places)),
    ))
}

fn rounded(number: f64, places: usize) -> f64 {
    let scale = 10_f64.powi(i32::try_from(places).unwrap_or_default());
    let rounded = (number * scale).round() / scale;
    // Too large to scale: there are no decimal places to lose. `+ 0.0` turns -0.0 into 0.0.
    if rounded.is_finite() {
        rounded + 0.0
    } else {
        number
    }
}

/// Rounds to the nearest integer, always without a decimal point.
fn whole(value: &Value) -> Result<Value, Error> {
    Ok(take::whole(number(value, "whole")?.map(f64::round)))
}

/// Gives the integer at or below.
fn floor(value: &Value) -> Result<Value, Error> {
    Ok(take::whole(number(value, "floor")?.map(f64::floor)))
}

/// Gives the integer at or above.
fn ceil(value: &Value) -> Result<Value, Error> {
    Ok(take::whole(number(value, "ceil")?.map(f64::ceil)))
}

/// Multiplies, then adds.
fn scale(value: &Value, factor: &Value, offset: Option<Value>) -> Result<Value, Error> {
    let offset = offset.unwrap_or(Value::from(0));
    let by = argument(factor, "scale", "factor")?;
    let and = argument(&offset, "scale", "offset")?;
    let scaled = number(value, "scale")?.map(|number| number * by + and);
    let integers = integer(value).zip(integer(factor)).zip(integer(&offset));
    let exact = integers
        .and_then(|((value, factor), offset)| value.checked_mul(factor)?.checked_add(offset));
    Ok(exact.map_or_else(|| float(scaled), Value::from))
}

/// Adds.
fn plus(value: &Value, y: &Value) -> Result<Value, Error> {
    let sum = number(value, "plus")?.zip(number(y, "plus")?);
    let exact = integer(value).zip(integer(y));
    let exact = exact.and_then(|(value, y)| value.checked_add(y));
    Ok(exact.map_or_else(|| float(sum.map(|(value, y)| value + y)), Value::from))
}

/// Subtracts.
fn minus(value: &Value, y: &Value) -> Result<Value, Error> {
    let difference = number(value, "minus")?.zip(number(y, "minus")?);
    let exact = integer(value).zip(integer(y));
    let exact = exact.and_then(|(value, y)| value.checked_sub(y));
    Ok(exact.map_or_else(
        || float(difference.map(|(value, y)| value - y)),
        Value::from,
    ))
}

/// Keeps the value between two limits.
fn clamp(value: &Value, low: &Value, high: &Value) -> Result<Value, Error> {
    let limits = (
        argument(low, "clamp", "low")?,
        argument(high, "clamp", "high")?,
    );
    if limits.0 > limits.1 {
        return Err(refused(format!(
            "`clamp` takes a `low` that is not above `high`, and {low} is above {high}"
        )));
    }
    let clamped = number(value, "clamp")?.map(|number| number.clamp(limits.0, limits.1));
    let integers = integer(value).zip(integer(low)).zip(integer(high));
    Ok(match integers {
        // Beyond 2^53 two integers may differ and be the same as numbers.
        Some(((value, low), high)) if low <= high => Value::from(value.clamp(low, high)),
        _ => float(clamped),
    })
}

/// Writes a number with so many decimal places, as text.
fn fixed(value: &Value, places: &Value) -> Result<Value, Error> {
    let places = count(places, "fixed", "places", 0..=MOST_PLACES)?;
    let number = number(value, "fixed")?.map(|number| rounded(number, places));
    Ok(number.map(|number| format!("{number:.places$}")).into())
}

/// Writes an integer with zeros in front, as text.
fn digits(value: &Value, width: &Value) -> Result<Value, Error> {
    let width = count(width, "digits", "width", 1..=30)?;
    let number = number(value, "digits")?.map(|number| rounded(number, 0));
    Ok(number
        .map(|number| {
            let sign = if number < 0.0 { "-" } else { "" };
            format!("{sign}{:0width$.0}", number.abs())
        })
        .into())
}
