//! What can be wrong with the bounds of a rule.

use std::time::Duration;

use super::trip::Rule;

/// Tells why a rule cannot be watched.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ProtectionError {
    /// A bound is no number, or outside what makes sense.
    #[error("{rule}: {what} is {value} {unit}, outside {lowest} to {highest} {unit}")]
    OutOfRange {
        /// The rule.
        rule: Rule,
        /// The bound, as a person would call it.
        what: &'static str,
        /// The value that was given.
        value: f64,
        /// Unit of all three numbers.
        unit: &'static str,
        /// Lowest allowed value.
        lowest: f64,
        /// Highest allowed value.
        highest: f64,
    },
    /// A rule that trips in the moment it starts to look.
    #[error("{rule}: period is {period:?} (it must be longer than nothing)")]
    NoPeriod {
        /// The rule.
        rule: Rule,
        /// The period that was given.
        period: Duration,
    },
    /// Limits that leave no temperature between them.
    #[error("above-maximum: {maximum_celsius} °C is not above the minimum of {minimum_celsius} °C")]
    NoRoom {
        /// The upper limit.
        maximum_celsius: f64,
        /// The lower limit.
        minimum_celsius: f64,
    },
}

/// Checks that a bound is a number within limits.
///
/// # Errors
/// [`ProtectionError::OutOfRange`] if it is not.
pub(super) fn within(
    rule: Rule,
    what: &'static str,
    value: f64,
    unit: &'static str,
    [lowest, highest]: [f64; 2],
) -> Result<(), ProtectionError> {
    if value >= lowest && value <= highest {
        Ok(())
    } else {
        Err(ProtectionError::OutOfRange {
            rule,
            what,
            value,
            unit,
            lowest,
            highest,
        })
    }
}

/// Checks a difference of temperatures, above 0 and up to 1000 K.
pub(super) fn kelvin(rule: Rule, what: &'static str, value: f64) -> Result<(), ProtectionError> {
    within(rule, what, value, "K", [1e-3, 1000.0])
}

/// Checks a temperature, -273.15 to 2000 °C.
pub(super) fn celsius(rule: Rule, what: &'static str, value: f64) -> Result<(), ProtectionError> {
    within(rule, what, value, "°C", [-273.15, 2000.0])
}

/// Checks a period in which something has to happen.
pub(super) fn period(rule: Rule, period: Duration) -> Result<(), ProtectionError> {
    if period.is_zero() {
        Err(ProtectionError::NoPeriod { rule, period })
    } else {
        Ok(())
    }
}
