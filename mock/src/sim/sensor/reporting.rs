//! How a host presents a temperature: its range, its rounding, and what it makes of a broken circuit.

use super::error::{SensorError, within};
use super::quantum::Quantum;
use super::reading::{Break, Reading};

/// Says what a host makes of an ADC that sits on one of its rails.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Rails {
    /// It converts them like any other code, so that an open thermistor becomes the lowest temperature of its
    /// range and a shorted one the highest (a platinum sensor the other way round). Common practice, and the
    /// trap for a watcher: the number looks like a temperature.
    #[default]
    Number,
    /// It says that there is no reading.
    NotAvailable,
}

/// A host's range in degrees Celsius, rounding, and treatment of broken circuits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reporting {
    lowest_celsius: f64,
    highest_celsius: f64,
    rails: Rails,
    quantum: Option<Quantum>,
}

/// Absolute zero, the lowest number that can be a temperature. Source: definition of the Celsius scale.
const ABSOLUTE_ZERO_CELSIUS: f64 = -273.15;

/// Highest end that a range may have. Chosen here: above every curve's.
const CEILING_CELSIUS: f64 = 2000.0;

impl Default for Reporting {
    /// Reports every number from absolute zero up to 2000 °C, unrounded, rails included.
    fn default() -> Self {
        Self {
            lowest_celsius: ABSOLUTE_ZERO_CELSIUS,
            highest_celsius: CEILING_CELSIUS,
            rails: Rails::Number,
            quantum: None,
        }
    }
}

impl Reporting {
    /// Makes a way of reporting; numbers outside the range become its ends, after rounding.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] unless -273.15 <= lowest <= highest <= 2000 °C.
    pub fn new(
        lowest_celsius: f64,
        highest_celsius: f64,
        rails: Rails,
        quantum: Option<Quantum>,
    ) -> Result<Self, SensorError> {
        within(
            "lowest reported temperature",
            lowest_celsius,
            "°C",
            ABSOLUTE_ZERO_CELSIUS,
            CEILING_CELSIUS,
        )?;
        within(
            "highest reported temperature",
            highest_celsius,
            "°C",
            lowest_celsius,
            CEILING_CELSIUS,
        )?;
        Ok(Self {
            lowest_celsius,
            highest_celsius,
            rails,
            quantum,
        })
    }

    /// Says whether it presents every temperature that a simulated part can have as it is.
    #[must_use]
    #[inline]
    pub fn changes_nothing(&self) -> bool {
        // The bounds of the default are beyond what any part reaches.
        self.quantum.is_none()
            && self.lowest_celsius <= ABSOLUTE_ZERO_CELSIUS
            && self.highest_celsius >= CEILING_CELSIUS
    }

    /// Returns what the host reports for a temperature that it has worked out.
    #[must_use]
    pub fn present(&self, celsius: f64) -> f64 {
        let rounded = match self.quantum {
            Some(quantum) => quantum.apply(celsius),
            None => celsius,
        };
        rounded.clamp(self.lowest_celsius, self.highest_celsius)
    }

    /// Returns what the host reports for a broken circuit, whose rail its conversion takes for `rail_celsius`.
    #[must_use]
    pub fn present_broken(&self, broken: Break, rail_celsius: f64) -> Reading {
        match self.rails {
            Rails::Number => Reading::Celsius(self.present(rail_celsius)),
            Rails::NotAvailable => Reading::NotAvailable(broken),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::quantum::Rounding;
    use super::*;

    // Source: Python package tclab 1.0.0, method `quantize`: max(-50, min(132.2, T - T % 0.3223)).
    #[test]
    fn range_ends_come_after_rounding_as_in_the_teaching_device() {
        let quantum = Quantum::new(0.3223, Rounding::Down).unwrap();
        let reporting = Reporting::new(-50.0, 132.2, Rails::Number, Some(quantum)).unwrap();
        assert!((reporting.present(500.0) - 132.2).abs() < 1e-9);
        assert!((reporting.present(-60.0) + 50.0).abs() < 1e-9);
        assert!((reporting.present(132.2) - 132.143).abs() < 1e-9); // 410 steps
    }

    #[test]
    fn a_broken_circuit_is_a_number_or_none_as_the_host_has_it() {
        let with = |rails| Reporting::new(-40.0, 300.0, rails, None).unwrap();
        assert_eq!(
            with(Rails::Number).present_broken(Break::Open, -100.0),
            Reading::Celsius(-40.0)
        );
        assert_eq!(
            with(Rails::NotAvailable).present_broken(Break::Open, -100.0),
            Reading::NotAvailable(Break::Open)
        );
    }

    #[test]
    fn a_range_upside_down_is_refused() {
        let refusal = Reporting::new(300.0, -40.0, Rails::Number, None).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "highest reported temperature is -40 °C, outside 300 to 2000 °C"
        );
    }
}
