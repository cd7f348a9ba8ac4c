//! The Steinhart-Hart equation.

use super::super::error::SensorError;
use super::{celsius_of_reciprocal, reciprocal_of_celsius};

/// A thermistor curve with three constants, `1/T = A + B ln R + C (ln R)^3`, T in kelvin, R in ohm.
///
/// # Source
/// Steinhart and Hart, 1968 (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SteinhartHart {
    a: f64,
    b: f64,
    c: f64,
}

impl SteinhartHart {
    /// Makes a curve from its coefficients in 1/K.
    ///
    /// # Errors
    /// [`SensorError::BadCoefficients`] unless all are finite, B is above 0 and C not below 0: only then does
    /// every resistance have one temperature and the other way round.
    pub fn new(a: f64, b: f64, c: f64) -> Result<Self, SensorError> {
        if a.is_finite() && b.is_finite() && c.is_finite() && b > 0.0 && c >= 0.0 {
            Ok(Self { a, b, c })
        } else {
            Err(SensorError::BadCoefficients { a, b, c })
        }
    }

    /// Lays the curve through three points, each a temperature in degrees Celsius and a resistance in ohm.
    ///
    /// # Errors
    /// [`SensorError::PointsCoincide`] if two resistances are equal or not above 0;
    /// [`SensorError::BadCoefficients`] if the points bend the wrong way for this equation.
    ///
    /// # Source
    /// Divided differences of `1/T` over `ln R`, solved for C, B, A in turn (textbook algebra, from memory).
    pub fn through(points: [(f64, f64); 3]) -> Result<Self, SensorError> {
        let [l1, l2, l3] = points.map(|(_, ohms)| ohms.ln());
        let [y1, y2, y3] = points.map(|(celsius, _)| reciprocal_of_celsius(celsius));
        let slope_12 = (y2 - y1) / (l2 - l1);
        let slope_13 = (y3 - y1) / (l3 - l1);
        let c = (slope_13 - slope_12) / ((l3 - l2) * (l1 + l2 + l3));
        let b = slope_12 - c * (l1 * l1 + l1 * l2 + l2 * l2);
        let a = y1 - (b + c * l1 * l1) * l1;
        if a.is_finite() && b.is_finite() && c.is_finite() {
            Self::new(a, b, c)
        } else {
            Err(SensorError::PointsCoincide)
        }
    }

    /// Returns the coefficients A, B and C in 1/K.
    #[must_use]
    pub const fn coefficients(&self) -> [f64; 3] {
        [self.a, self.b, self.c]
    }

    /// Returns the resistance in ohm at a temperature.
    ///
    /// # Source
    /// `L^3 + p L + q = 0` with p > 0 has the one root `2 sqrt(p/3) sinh(asinh(-3q/(2p) sqrt(3/p)) / 3)` (from
    /// memory; the tests put it back into the equation).
    #[must_use]
    pub fn ohms(&self, celsius: f64) -> f64 {
        let rest = reciprocal_of_celsius(celsius) - self.a;
        // Below this C the cubic term is beyond a double's digits, and the root formula would overflow.
        if self.c < 1e-30 {
            return (rest / self.b).exp();
        }
        let p = self.b / self.c;
        let q = -rest / self.c;
        let ln_ohms =
            2.0 * (p / 3.0).sqrt() * ((-1.5 * q / p * (3.0 / p).sqrt()).asinh() / 3.0).sinh();
        ln_ohms.exp()
    }

    /// Returns the temperature in degrees Celsius at a resistance in ohm: 0 gives the hottest end, infinity the
    /// coldest.
    #[must_use]
    pub fn celsius(&self, ohms: f64) -> f64 {
        let ln_ohms = ohms.max(0.0).ln();
        celsius_of_reciprocal(self.a + ln_ohms * (self.b + self.c * ln_ohms * ln_ohms))
    }
}

#[cfg(test)]
mod tests {
    use super::super::builtin::{GLASS_BEAD_3950, GLASS_BEAD_4200};
    use super::super::{COLDEST_CELSIUS, HOTTEST_CELSIUS};
    use super::*;
    use proptest::prelude::*;

    fn through_25_100_250(rows: &[(f64, f64)]) -> SteinhartHart {
        let at = |wanted: i32| *rows.iter().find(|row| row.0 as i32 == wanted).unwrap();
        SteinhartHart::through([at(25), at(100), at(250)]).unwrap()
    }

    // Source: coefficients computed from the makers' tables through 25, 100, 250 °C, six digits given.
    #[test]
    fn fit_through_three_rows_gives_the_published_coefficients() {
        for (rows, expected) in [
            (GLASS_BEAD_3950, [7.58112e-4, 2.08025e-4, 1.31667e-7]),
            (GLASS_BEAD_4200, [8.09338e-4, 2.10289e-4, 8.10190e-8]),
        ] {
            let found = through_25_100_250(rows).coefficients();
            for (f, e) in found.iter().zip(expected) {
                assert!((f / e - 1.0).abs() < 5e-6, "{f:e} for {e:e}");
            }
        }
    }

    // Source: largest errors of those fits at the tables' rows: type 3950 0.37 K in 0..250 °C (at 150), 2.0 K at
    // -40; type 4200 0.18 K (at 150) and 0.53 K.
    #[test]
    fn fit_errors_are_the_published_ones() {
        for (rows, warm_kelvin, cold_kelvin) in
            [(GLASS_BEAD_3950, 0.37, 2.0), (GLASS_BEAD_4200, 0.18, 0.53)]
        {
            let curve = through_25_100_250(rows);
            let error = |row: &(f64, f64)| (curve.celsius(row.1) - row.0).abs();
            let (at, largest) = rows
                .iter()
                .filter(|row| row.0 >= 0.0)
                .map(|row| (row.0, error(row)))
                .fold(
                    (0.0, 0.0),
                    |most, next| if next.1 > most.1 { next } else { most },
                );
            assert!((largest - warm_kelvin).abs() < 0.005, "{largest}");
            assert!((at - 150.0_f64).abs() < 1e-9, "{at}");
            // 2.0 is given with one digit less.
            assert!(
                (error(&rows[0]) - cold_kelvin).abs() < 0.05,
                "{}",
                error(&rows[0])
            );
        }
    }

    #[test]
    fn without_the_cubic_term_it_is_the_beta_formula() {
        let b = 1.0 / 3950.0;
        let curve = SteinhartHart::new(1.0 / 298.15 - b * 100e3_f64.ln(), b, 0.0).unwrap();
        let beta = super::super::Beta::new(100e3, 3950.0).unwrap();
        for celsius in [-40.0, 25.0, 210.0] {
            assert!((curve.ohms(celsius) / beta.ohms(celsius) - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn short_and_open_circuits_end_at_the_ends_of_the_curve() {
        let curve = through_25_100_250(GLASS_BEAD_3950);
        assert_eq!(curve.celsius(0.0).to_bits(), HOTTEST_CELSIUS.to_bits());
        assert_eq!(
            curve.celsius(f64::INFINITY).to_bits(),
            COLDEST_CELSIUS.to_bits()
        );
    }

    #[test]
    fn a_point_given_twice_is_refused() {
        let point = (25.0, 100e3);
        assert_eq!(
            SteinhartHart::through([point, point, (250.0, 231.0)]),
            Err(SensorError::PointsCoincide)
        );
    }

    #[test]
    fn a_curve_that_turns_back_is_refused() {
        assert!(matches!(
            SteinhartHart::new(1e-3, 2e-4, -1e-7),
            Err(SensorError::BadCoefficients { .. })
        ));
    }

    proptest! {
        #[test]
        fn ohms_and_celsius_undo_each_other(
            celsius in -100.0..1000.0_f64, a in 5e-4..1.5e-3_f64, b in 1e-4..4e-4_f64, c in 0.0..4e-7_f64,
        ) {
            let curve = SteinhartHart::new(a, b, c).unwrap();
            let back = curve.celsius(curve.ohms(celsius));
            prop_assert!((back - celsius).abs() < 1e-6, "{back}");
        }

        #[test]
        fn fit_passes_through_its_points(c25 in 3700.0..4400.0_f64, bend in 10.0..150.0_f64) {
            // Points of a curve whose B grows, as that of real thermistors does.
            let beta = |celsius: f64, b: f64| super::super::Beta::new(100e3, b).unwrap().ohms(celsius);
            let points = [(25.0, 100e3), (100.0, beta(100.0, c25)), (250.0, beta(250.0, c25 + bend))];
            if let Ok(curve) = SteinhartHart::through(points) {
                for (celsius, ohms) in points {
                    prop_assert!((curve.celsius(ohms) - celsius).abs() < 1e-6);
                }
            }
        }
    }
}
