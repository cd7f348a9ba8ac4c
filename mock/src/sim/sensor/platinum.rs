//! Platinum sensors, PT100 and PT1000.

use super::error::{SensorError, within};

/// IEC 60751 coefficient A in 1/K (from memory).
const A: f64 = 3.9083e-3;
/// IEC 60751 coefficient B in 1/K^2 (from memory).
const B: f64 = -5.775e-7;
/// IEC 60751 coefficient C in 1/K^4, below 0 °C only (from memory).
const C: f64 = -4.183e-12;

/// Lowest temperature in degrees Celsius of the standard; colder ones are taken as this.
pub const COLDEST_CELSIUS: f64 = -200.0;
/// Highest temperature in degrees Celsius of the standard; hotter ones are taken as this.
pub const HOTTEST_CELSIUS: f64 = 850.0;

/// Says how far a sensor may be off.
///
/// # Source
/// IEC 60751 (from memory): AA `0.10 + 0.0017 |t|`, A `0.15 + 0.002 |t|`, B `0.30 + 0.005 |t|`, C
/// `0.60 + 0.010 |t|` K. The temperature ranges in which each class holds are left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ToleranceClass {
    /// The closest, once called one third B.
    AA,
    /// Close.
    A,
    /// The usual one.
    B,
    /// Twice as wide as B.
    C,
}

impl ToleranceClass {
    /// Returns the fixed part in kelvin and the part per kelvin from 0 °C.
    const fn parts(self) -> (f64, f64) {
        match self {
            Self::AA => (0.10, 0.0017),
            Self::A => (0.15, 0.002),
            Self::B => (0.30, 0.005),
            Self::C => (0.60, 0.010),
        }
    }

    /// Returns the largest allowed deviation at a temperature, in kelvin.
    #[must_use]
    pub fn limit_kelvin(self, celsius: f64) -> f64 {
        let (fixed_kelvin, per_kelvin) = self.parts();
        fixed_kelvin + per_kelvin * celsius.abs()
    }
}

/// A platinum sensor: `R = R0 (1 + A t + B t^2)` from 0 °C up, with `C (t - 100) t^3` added below.
///
/// # Source
/// IEC 60751.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Platinum {
    r0_ohms: f64,
    /// Deviation at t is `offset + slope |t|`, in kelvin: as if the sensor sat that much hotter.
    offset_kelvin: f64,
    slope_per_kelvin: f64,
}

impl Platinum {
    /// Makes a sensor that follows the standard exactly, from its resistance at 0 °C, 1 ohm to 100 kohm.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] for any other resistance.
    pub fn new(r0_ohms: f64) -> Result<Self, SensorError> {
        within("platinum resistance at 0 °C", r0_ohms, "ohm", 1.0, 1e5)?;
        Ok(Self {
            r0_ohms,
            offset_kelvin: 0.0,
            slope_per_kelvin: 0.0,
        })
    }

    /// Returns an exact sensor of 100 ohm at 0 °C.
    #[must_use]
    pub const fn pt100() -> Self {
        Self {
            r0_ohms: 100.0,
            offset_kelvin: 0.0,
            slope_per_kelvin: 0.0,
        }
    }

    /// Returns an exact sensor of 1000 ohm at 0 °C.
    #[must_use]
    pub const fn pt1000() -> Self {
        Self {
            r0_ohms: 1000.0,
            offset_kelvin: 0.0,
            slope_per_kelvin: 0.0,
        }
    }

    /// Makes the sensor read off by a share of its class's limit, -1 (as cold as allowed) to 1 (as hot).
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] for a share outside these bounds.
    pub fn deviating(mut self, class: ToleranceClass, share: f64) -> Result<Self, SensorError> {
        within("share of the platinum tolerance", share, "times", -1.0, 1.0)?;
        let (fixed_kelvin, per_kelvin) = class.parts();
        self.offset_kelvin = share * fixed_kelvin;
        self.slope_per_kelvin = share * per_kelvin;
        Ok(self)
    }

    /// Returns the resistance in ohm at a temperature.
    #[must_use]
    pub fn ohms(&self, celsius: f64) -> f64 {
        let seen = celsius + self.offset_kelvin + self.slope_per_kelvin * celsius.abs();
        self.r0_ohms * ratio(seen.clamp(COLDEST_CELSIUS, HOTTEST_CELSIUS))
    }

    /// Returns the temperature in degrees Celsius at a resistance in ohm: 0 gives the coldest end of the
    /// standard, infinity the hottest.
    #[must_use]
    pub fn celsius(&self, ohms: f64) -> f64 {
        // Undoes the deviation on the side of 0 °C where the answer lies.
        let seen = celsius_of_ratio(ohms / self.r0_ohms) - self.offset_kelvin;
        let celsius = seen / (1.0 + self.slope_per_kelvin * seen.signum());
        celsius.clamp(COLDEST_CELSIUS, HOTTEST_CELSIUS)
    }
}

/// Returns R/R0 by the standard.
fn ratio(celsius: f64) -> f64 {
    let warm = 1.0 + celsius * (A + B * celsius);
    if celsius < 0.0 {
        warm + C * (celsius - 100.0) * celsius.powi(3)
    } else {
        warm
    }
}

/// Inverts [`ratio`]: in closed form from 0 °C up, by Newton's method below.
fn celsius_of_ratio(wanted: f64) -> f64 {
    if wanted >= ratio(HOTTEST_CELSIUS) {
        return HOTTEST_CELSIUS;
    }
    if wanted <= ratio(COLDEST_CELSIUS) {
        return COLDEST_CELSIUS;
    }
    let mut celsius = ((A * A - 4.0 * B * (1.0 - wanted)).sqrt() - A) / (2.0 * B);
    if wanted < 1.0 {
        // The quadratic is off by 2.4 K at most down here, and the slope changes little: each round squares a
        // small error, four leave nothing.
        for _ in 0..4 {
            let slope = A + 2.0 * B * celsius + C * (4.0 * celsius - 300.0) * celsius.powi(2);
            celsius -= (ratio(celsius) - wanted) / slope;
        }
    }
    celsius
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // Source: IEC 60751 table computed from its coefficients; PT100 in ohm, rounded to 0.01.
    const PT100_ROWS: [(f64, f64); 13] = [
        (-40.0, 84.27),
        (0.0, 100.00),
        (25.0, 109.73),
        (50.0, 119.40),
        (60.0, 123.24),
        (100.0, 138.51),
        (150.0, 157.33),
        (200.0, 175.86),
        (210.0, 179.53),
        (230.0, 186.84),
        (250.0, 194.10),
        (300.0, 212.05),
        (400.0, 247.09),
    ];

    #[test]
    fn resistances_are_those_of_the_standard() {
        for (celsius, ohms) in PT100_ROWS {
            assert!(
                (Platinum::pt100().ohms(celsius) - ohms).abs() <= 0.005,
                "{celsius}"
            );
            // The PT1000 column of the same table is given to 0.1 ohm.
            assert!(
                (Platinum::pt1000().ohms(celsius) - 10.0 * ohms).abs() <= 0.05,
                "{celsius}"
            );
        }
    }

    // Source: IEC 60751, ends of the table, from memory: 18.52 ohm at -200, 390.48 ohm at 850.
    #[test]
    fn ends_of_the_table_are_those_of_the_standard() {
        assert!((Platinum::pt100().ohms(-200.0) - 18.52).abs() <= 0.005);
        assert!((Platinum::pt100().ohms(850.0) - 390.48).abs() <= 0.005);
    }

    // Source: IEC 60751 classes A and B (from memory): 0.15 + 0.002 * 200 and 0.30 + 0.005 * 200.
    #[test]
    fn tolerances_are_those_of_the_classes() {
        assert!((ToleranceClass::A.limit_kelvin(200.0) - 0.55).abs() < 1e-12);
        assert!((ToleranceClass::B.limit_kelvin(-200.0) - 1.30).abs() < 1e-12);
        assert!((ToleranceClass::AA.limit_kelvin(100.0) - 0.27).abs() < 1e-12);
        assert!((ToleranceClass::C.limit_kelvin(100.0) - 1.60).abs() < 1e-12);
    }

    #[test]
    fn a_sensor_at_its_limit_reads_off_by_just_that() {
        for celsius in [-40.0, 0.0, 210.0] {
            let worst = Platinum::pt1000()
                .deviating(ToleranceClass::B, -1.0)
                .unwrap();
            let read = Platinum::pt1000().celsius(worst.ohms(celsius));
            assert!(
                (celsius - read - ToleranceClass::B.limit_kelvin(celsius)).abs() < 1e-9,
                "{celsius}"
            );
        }
    }

    #[test]
    fn short_and_open_circuits_end_at_the_ends_of_the_standard() {
        assert_eq!(
            Platinum::pt100().celsius(0.0).to_bits(),
            COLDEST_CELSIUS.to_bits()
        );
        assert_eq!(
            Platinum::pt100().celsius(f64::INFINITY).to_bits(),
            HOTTEST_CELSIUS.to_bits()
        );
    }

    #[test]
    fn a_share_above_the_tolerance_is_refused() {
        let refusal = Platinum::pt100()
            .deviating(ToleranceClass::A, 1.5)
            .unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "share of the platinum tolerance is 1.5 times, outside -1 to 1 times"
        );
    }

    proptest! {
        #[test]
        fn ohms_and_celsius_undo_each_other(celsius in -195.0..840.0_f64, share in -1.0..=1.0_f64) {
            let sensor = Platinum::pt1000().deviating(ToleranceClass::B, share).unwrap();
            prop_assert!((sensor.celsius(sensor.ohms(celsius)) - celsius).abs() < 1e-9);
        }

        #[test]
        fn resistance_rises_everywhere(celsius in -200.0..849.0_f64, more in 1e-3..1.0_f64) {
            prop_assert!(Platinum::pt100().ohms(celsius + more) > Platinum::pt100().ohms(celsius));
        }
    }
}
