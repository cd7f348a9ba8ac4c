//! What can be wrong with the description of a sensor.

/// Tells why a sensor cannot be built as described.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SensorError {
    /// A number lies outside its allowed range, or is no number.
    #[error("{what} is {value} {unit}, outside {lowest} to {highest} {unit}")]
    OutOfRange {
        /// The thing described, as a person would call it.
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
    /// A table has too few rows to lay a curve through.
    #[error("thermistor table has {rows} rows (a curve needs at least 2)")]
    TooFewRows {
        /// The number of rows given.
        rows: usize,
    },
    /// A row of a table breaks the falling curve of an NTC thermistor.
    #[error(
        "thermistor table row {row}, {celsius} °C and {ohms} ohm, does not follow its predecessor (temperature \
         must rise and resistance fall from row to row)"
    )]
    NotFalling {
        /// Position of the row, counted from 1.
        row: usize,
        /// Temperature of the row.
        celsius: f64,
        /// Resistance of the row.
        ohms: f64,
    },
    /// Steinhart-Hart coefficients that do not make resistance fall with temperature everywhere.
    #[error(
        "steinhart-hart coefficients a {a:e}, b {b:e}, c {c:e} give no falling curve (b must be above 0, c not below)"
    )]
    BadCoefficients {
        /// Coefficient A in 1/K.
        a: f64,
        /// Coefficient B in 1/K.
        b: f64,
        /// Coefficient C in 1/K.
        c: f64,
    },
    /// Points for a fit that do not determine a curve.
    #[error("steinhart-hart points do not determine a curve (give three different resistances)")]
    PointsCoincide,
}

/// Checks that a value is a number within bounds.
///
/// # Errors
/// [`SensorError::OutOfRange`] if it is not.
pub(super) fn within(
    what: &'static str,
    value: f64,
    unit: &'static str,
    lowest: f64,
    highest: f64,
) -> Result<f64, SensorError> {
    if value >= lowest && value <= highest {
        Ok(value)
    } else {
        Err(SensorError::OutOfRange {
            what,
            value,
            unit,
            lowest,
            highest,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn not_a_number_lies_outside_every_range() {
        let refusal = within("noise", f64::NAN, "K", 0.0, 50.0).unwrap_err();
        assert_eq!(refusal.to_string(), "noise is NaN K, outside 0 to 50 K");
    }
}
