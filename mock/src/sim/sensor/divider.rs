//! The voltage divider before the ADC: a pull-up resistor to the supply, the sensor to ground.

use super::error::{SensorError, within};

/// A pull-up resistor and the ADC that measures across the sensor.
///
/// The code is the nearest of 0..=2^bits - 1 to `ratio * R / (R + pull-up)` of full scale, where `ratio` is the
/// pull-up's supply over the ADC's reference (1 when both are the same rail, and supply noise cancels). Code 0 is
/// a shorted sensor, full scale an open one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Divider {
    pull_up_ohms: f64,
    bits: u8,
    reference_ratio: f64,
    full_scale: f64,
}

impl Divider {
    /// Makes a divider with a pull-up of 1 ohm to 10 Mohm, an ADC of 6 to 16 bits, and a reference ratio of 0.1
    /// to 10.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] names the first value outside these bounds.
    pub fn new(pull_up_ohms: f64, bits: u8, reference_ratio: f64) -> Result<Self, SensorError> {
        within("pull-up resistor", pull_up_ohms, "ohm", 1.0, 1e7)?;
        within("adc resolution", f64::from(bits), "bits", 6.0, 16.0)?;
        within("adc reference ratio", reference_ratio, "times", 0.1, 10.0)?;
        let full_scale = f64::from((1_u32 << bits) - 1);
        Ok(Self {
            pull_up_ohms,
            bits,
            reference_ratio,
            full_scale,
        })
    }

    /// Returns the highest code, that of an open sensor.
    #[must_use]
    pub fn full_scale_code(&self) -> u16 {
        // At most 16 bits, see `new`.
        ((1_u32 << self.bits) - 1) as u16
    }

    /// Returns where between the codes a resistance in ohm falls, before rounding, within 0 and full scale.
    ///
    /// An infinite resistance is an open circuit, one of 0 or below a short.
    #[must_use]
    pub fn fractional_code(&self, ohms: f64) -> f64 {
        let share = if ohms.is_infinite() {
            1.0
        } else {
            ohms.max(0.0) / (ohms.max(0.0) + self.pull_up_ohms)
        };
        (share * self.reference_ratio * self.full_scale).clamp(0.0, self.full_scale)
    }

    /// Rounds a fractional code as the ADC does.
    #[must_use]
    pub fn code_of_fractional(&self, fractional_code: f64) -> u16 {
        // Float to integer casts saturate, so values just outside end up on the rail.
        ((fractional_code + 0.5) as u16).min(self.full_scale_code())
    }

    /// Returns the ADC's code for a resistance in ohm.
    #[must_use]
    pub fn code(&self, ohms: f64) -> u16 {
        self.code_of_fractional(self.fractional_code(ohms))
    }

    /// Returns the resistance in ohm that a host works out of a code: infinite at the code of an open circuit and
    /// above, 0 at code 0.
    ///
    /// With a reference ratio above 1 a finite resistance reaches full scale already; the host cannot tell and
    /// takes it as open.
    #[must_use]
    pub fn ohms(&self, code: u16) -> f64 {
        if code >= self.code(f64::INFINITY) {
            return f64::INFINITY;
        }
        // Below 1, since the code is below that of an open circuit.
        let share = f64::from(code) / (self.full_scale * self.reference_ratio);
        self.pull_up_ohms * share / (1.0 - share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn open_reads_full_scale_and_short_reads_zero() {
        let divider = Divider::new(4700.0, 12, 1.0).unwrap();
        assert_eq!(divider.code(f64::INFINITY), 4095);
        assert_eq!(divider.code(0.0), 0);
        assert_eq!(divider.ohms(0).to_bits(), 0.0_f64.to_bits());
        assert_eq!(divider.ohms(4095).to_bits(), f64::INFINITY.to_bits());
    }

    // The divider rule: equal resistors halve the voltage, and half of 4095 rounds to 2048.
    #[test]
    fn a_sensor_equal_to_its_pull_up_reads_half_scale() {
        assert_eq!(Divider::new(4700.0, 12, 1.0).unwrap().code(4700.0), 2048);
    }

    // 3.3 V over a reference of 2.5 V: full scale at R/(R + 4700) = 1/1.32, R = 14687.5 ohm.
    #[test]
    fn a_low_reference_saturates_early() {
        let divider = Divider::new(4700.0, 10, 3.3 / 2.5).unwrap();
        assert_eq!(divider.code(14_800.0), 1023);
        assert!(divider.code(14_000.0) < 1023);
    }

    // An open circuit on 10 bits gives ratio * 1023, not full scale: 2.5/3.3 775.0, 0.8 818.4, 0.7 716.1.
    #[test]
    fn a_high_reference_shows_an_open_circuit_below_full_scale() {
        for (ratio, open_code) in [(2.5 / 3.3, 775), (0.8, 818), (0.7, 716)] {
            let divider = Divider::new(4700.0, 10, ratio).unwrap();
            assert_eq!(divider.code(f64::INFINITY), open_code);
            assert!(divider.ohms(open_code).is_infinite());
            assert!(divider.ohms(open_code - 1).is_finite());
        }
    }

    #[test]
    fn seventeen_bits_are_refused() {
        let refusal = Divider::new(4700.0, 17, 1.0).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "adc resolution is 17 bits, outside 6 to 16 bits"
        );
    }

    proptest! {
        #[test]
        fn every_code_survives_the_way_to_ohms_and_back(
            bits in 6_u8..=16, share in 0.0..=1.0_f64, pull_up in 100.0..100_000.0_f64,
        ) {
            let divider = Divider::new(pull_up, bits, 1.0).unwrap();
            let code = (share * f64::from(divider.full_scale_code())) as u16;
            prop_assert_eq!(divider.code(divider.ohms(code)), code);
        }

        #[test]
        fn more_ohms_never_lower_the_code(
            bits in 6_u8..=16, ratio in 0.5..2.0_f64, low in 0.0..1e6_f64, more in 0.0..1e6_f64,
        ) {
            let divider = Divider::new(4700.0, bits, ratio).unwrap();
            prop_assert!(divider.code(low + more) >= divider.code(low));
        }
    }
}
