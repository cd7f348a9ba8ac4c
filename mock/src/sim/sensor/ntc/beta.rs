//! The beta formula.

use super::super::error::{SensorError, within};
use super::{REFERENCE_KELVIN, celsius_of_reciprocal, reciprocal_of_celsius};

/// A thermistor curve with one constant, `R = R25 exp(B (1/T - 1/298.15))`, T in kelvin.
///
/// Exact at 25 °C only. A real thermistor's B grows with temperature, so that a host with this formula over-reads
/// a hot nozzle by 10 to 27 K.
///
/// # Source
/// The usual data sheet formula (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beta {
    r25_ohms: f64,
    beta_kelvin: f64,
}

impl Beta {
    /// Makes a curve from the resistance at 25 °C, 1 ohm to 100 Mohm, and B, 500 to 10000 K.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] for values outside these bounds.
    pub fn new(r25_ohms: f64, beta_kelvin: f64) -> Result<Self, SensorError> {
        within("thermistor resistance at 25 °C", r25_ohms, "ohm", 1.0, 1e8)?;
        within("thermistor beta", beta_kelvin, "K", 500.0, 10_000.0)?;
        Ok(Self {
            r25_ohms,
            beta_kelvin,
        })
    }

    /// Returns the B that fits two points of a curve, in kelvin.
    ///
    /// Each point is a temperature in degrees Celsius and a resistance in ohm; equal temperatures have no B, and
    /// the result is not finite.
    #[must_use]
    pub fn between(one: (f64, f64), other: (f64, f64)) -> f64 {
        (one.1 / other.1).ln() / (reciprocal_of_celsius(one.0) - reciprocal_of_celsius(other.0))
    }

    /// Returns the resistance in ohm at a temperature.
    #[must_use]
    pub fn ohms(&self, celsius: f64) -> f64 {
        self.r25_ohms
            * (self.beta_kelvin * (reciprocal_of_celsius(celsius) - 1.0 / REFERENCE_KELVIN)).exp()
    }

    /// Returns the temperature in degrees Celsius at a resistance in ohm: 0 gives the hottest end, infinity the
    /// coldest.
    #[must_use]
    pub fn celsius(&self, ohms: f64) -> f64 {
        celsius_of_reciprocal(
            (ohms.max(0.0) / self.r25_ohms).ln() / self.beta_kelvin + 1.0 / REFERENCE_KELVIN,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::{COLDEST_CELSIUS, HOTTEST_CELSIUS, NtcTable};
    use super::*;
    use proptest::prelude::*;

    // Source: computed from the makers' tables, see `builtin.rs`; B is given in whole kelvin.
    #[test]
    fn beta_of_the_built_in_tables_grows_with_temperature() {
        let cases = [
            (
                NtcTable::glass_bead_3950(),
                [
                    (85.0, 3990.0),
                    (100.0, 4015.0),
                    (200.0, 4158.0),
                    (250.0, 4208.0),
                ],
            ),
            (
                NtcTable::glass_bead_4200(),
                [
                    (85.0, 4233.0),
                    (100.0, 4253.0),
                    (200.0, 4351.0),
                    (250.0, 4385.0),
                ],
            ),
        ];
        for (table, expected) in cases {
            for (celsius, beta_kelvin) in expected {
                let found = Beta::between((25.0, 100e3), (celsius, table.ohms(celsius)));
                assert!((found - beta_kelvin).abs() <= 0.5, "B25/{celsius}: {found}");
            }
        }
    }

    // Source: EPCOS data sheet B57861S, curve 8018: B25/100 3964 K.
    #[test]
    fn beta_of_the_epcos_curve_is_the_stated_one() {
        let found = Beta::between((25.0, 1.0), (100.0, 0.0691));
        assert!((found - 3964.0).abs() <= 0.5, "{found}");
    }

    #[test]
    fn short_and_open_circuits_end_at_the_ends_of_the_curve() {
        let curve = Beta::new(100e3, 3950.0).unwrap();
        assert_eq!(curve.celsius(0.0).to_bits(), HOTTEST_CELSIUS.to_bits());
        assert_eq!(curve.celsius(-5.0).to_bits(), HOTTEST_CELSIUS.to_bits());
        assert_eq!(
            curve.celsius(f64::INFINITY).to_bits(),
            COLDEST_CELSIUS.to_bits()
        );
    }

    // ln(0.001/100e3)/3950 + 1/298.15 = -0.0013 1/K, which no temperature has.
    #[test]
    fn a_nearly_shorted_circuit_is_at_the_hot_end_too() {
        assert_eq!(
            Beta::new(100e3, 3950.0).unwrap().celsius(0.001).to_bits(),
            HOTTEST_CELSIUS.to_bits()
        );
    }

    #[test]
    fn a_beta_of_zero_is_refused() {
        let refusal = Beta::new(100e3, 0.0).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "thermistor beta is 0 K, outside 500 to 10000 K"
        );
    }

    proptest! {
        #[test]
        fn ohms_and_celsius_undo_each_other(
            celsius in -100.0..1000.0_f64, beta in 3000.0..5000.0_f64, r25 in 1e3..1e6_f64,
        ) {
            let curve = Beta::new(r25, beta).unwrap();
            prop_assert!((curve.celsius(curve.ohms(celsius)) - celsius).abs() < 1e-8);
        }
    }
}
