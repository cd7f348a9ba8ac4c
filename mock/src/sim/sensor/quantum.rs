//! The step in which a host rounds its temperatures.

use super::error::{SensorError, within};

/// Says to which neighbouring step a temperature goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Rounding {
    /// To the nearest step, a tie to the even one.
    #[default]
    Nearest,
    /// To the step below.
    Down,
}

/// A rounding step, for instance 0.0625 K (a sixteenth) or 0.1 K.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantum {
    step_kelvin: f64,
    rounding: Rounding,
}

/// Adding and taking away 1.5 * 2^52 leaves a whole number, since a double of that size has no fraction bits. It
/// stands in for `round_ties_even`, which is a call into the maths library on processors without the instruction.
const WHOLE: f64 = 6_755_399_441_055_744.0;

impl Quantum {
    /// Makes a step of `step_kelvin` between 1e-6 and 100 K.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] for any other size.
    pub fn new(step_kelvin: f64, rounding: Rounding) -> Result<Self, SensorError> {
        within("rounding step", step_kelvin, "K", 1e-6, 100.0)?;
        Ok(Self {
            step_kelvin,
            rounding,
        })
    }

    /// Returns the size of the step in kelvin.
    #[must_use]
    pub const fn step_kelvin(self) -> f64 {
        self.step_kelvin
    }

    /// Rounds a temperature to a whole number of steps from 0 °C.
    #[must_use]
    pub fn apply(self, celsius: f64) -> f64 {
        let steps = celsius / self.step_kelvin;
        let nearest = (steps + WHOLE) - WHOLE;
        let whole = match self.rounding {
            Rounding::Nearest => nearest,
            Rounding::Down if nearest > steps => nearest - 1.0,
            Rounding::Down => nearest,
        };
        whole * self.step_kelvin
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_step_of_zero_is_refused() {
        let refusal = Quantum::new(0.0, Rounding::Nearest).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "rounding step is 0 K, outside 0.000001 to 100 K"
        );
    }

    // Source: Python package tclab 1.0.0, method `quantize` of its simulator: T - T % 0.3223.
    #[test]
    fn rounds_down_as_the_teaching_device_does() {
        let quantum = Quantum::new(0.3223, Rounding::Down).unwrap();
        // 21 = 65 steps (20.9495) and 0.0505; 50 = 155 steps (49.9565); -1 = -4 steps (-1.2892).
        for (celsius, reported) in [(21.0, 20.9495), (50.0, 49.9565), (-1.0, -1.2892)] {
            assert!(
                (quantum.apply(celsius) - reported).abs() < 1e-9,
                "{celsius}"
            );
        }
    }

    #[test]
    fn whole_steps_stay_where_they_are() {
        for rounding in [Rounding::Nearest, Rounding::Down] {
            let quantum = Quantum::new(0.25, rounding).unwrap();
            assert!(
                (-8..8)
                    .map(|step| f64::from(step) * 0.25)
                    .all(|whole| quantum.apply(whole).to_bits() == whole.to_bits())
            );
        }
    }

    proptest! {
        #[test]
        fn nearest_agrees_with_the_standard_library(celsius in -300.0..2000.0_f64, step in 1e-3..5.0_f64) {
            let quantum = Quantum::new(step, Rounding::Nearest).unwrap();
            prop_assert!((quantum.apply(celsius) - (celsius / step).round_ties_even() * step).abs() < 1e-12);
        }

        #[test]
        fn down_agrees_with_the_standard_library(celsius in -300.0..2000.0_f64, step in 1e-3..5.0_f64) {
            let quantum = Quantum::new(step, Rounding::Down).unwrap();
            prop_assert!((quantum.apply(celsius) - (celsius / step).floor() * step).abs() < 1e-12);
        }
    }
}
