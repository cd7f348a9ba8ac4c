//! Filters that turn the simulation's units into others.

use minijinja::{Error, Value};

use super::take::{float, number};

filters!(fahrenheit, kelvin, fraction, minutes, hours);

/// Turns degrees Celsius into degrees Fahrenheit.
///
/// # Source
/// NIST SP 811 (2008), appendix B.8: t/C = (t/F - 32)/1.8.
fn fahrenheit(celsius: &Value) -> Result<Value, Error> {
    Ok(float(
        number(celsius, "fahrenheit")?.map(|celsius| celsius * 1.8 + 32.0),
    ))
}

/// Turns degrees Celsius into kelvin.
///
/// # Source
/// SI Brochure, 9th edition, section 2.3.1: t/C = T/K - 273.15.
fn kelvin(celsius: &Value) -> Result<Value, Error> {
    Ok(float(
        number(celsius, "kelvin")?.map(|celsius| celsius + 273.15),
    ))
}

/// Turns percent into a share of 1.
fn fraction(percent: &Value) -> Result<Value, Error> {
    Ok(float(
        number(percent, "fraction")?.map(|percent| percent / 100.0),
    ))
}

/// Turns seconds into minutes.
fn minutes(seconds: &Value) -> Result<Value, Error> {
    Ok(float(
        number(seconds, "minutes")?.map(|seconds| seconds / 60.0),
    ))
}

/// Turns seconds into hours.
fn hours(seconds: &Value) -> Result<Value, Error> {
    Ok(float(
        number(seconds, "hours")?.map(|seconds| seconds / 3600.0),
    ))
}
