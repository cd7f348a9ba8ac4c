//! Measurement noise that depends on nothing but who reads and which reading it is.

use xxhash_rust::xxh3::xxh3_64_with_seed;

use super::error::{SensorError, within};

/// Which independent stream of one sensor's chance a number comes from.
#[derive(Clone, Copy, Debug)]
pub(super) enum Stream {
    /// Measurement noise.
    Noise = 0,
    /// Whether a loose contact is open.
    Contact = 1,
}

/// A source of 64 random bits per reading: a pure function of seed, sensor and reading, so that any reading can be
/// had at any time and in any order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Chance {
    key: u64,
}

impl Chance {
    pub(super) fn new(seed: u64, sensor_index: u32, stream: Stream) -> Self {
        let which = (u64::from(sensor_index) << 8) | stream as u64;
        Self {
            key: xxh3_64_with_seed(&which.to_le_bytes(), seed),
        }
    }

    pub(super) fn bits(self, reading_index: u64) -> u64 {
        xxh3_64_with_seed(&reading_index.to_le_bytes(), self.key)
    }

    /// Returns a number from 0 up to, not including, 1.
    pub(super) fn share(self, reading_index: u64) -> f64 {
        // 53 bits, the digits of a double.
        (self.bits(reading_index) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Approximately Gaussian noise of a stated standard deviation, in kelvin, without memory from reading to reading.
///
/// The sum of eight random bytes: mean and standard deviation are exact, 67.7 % (Gauss: 68.3) lie within one
/// standard deviation and 95.7 % (95.4) within two, nothing beyond 4.9, in steps of 1/209 of the standard
/// deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    chance: Chance,
    kelvin_per_unit: f64,
}

/// Mean of the sum of eight bytes, 8 * 255 / 2.
const MEAN: f64 = 1020.0;
/// Variance of the sum of eight bytes, 8 * (256^2 - 1) / 12.
const VARIANCE: f64 = 43_690.0;

impl Noise {
    /// Makes the noise of one sensor, with a standard deviation of 0 to 50 K.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] for any other standard deviation.
    pub fn new(sd_kelvin: f64, seed: u64, sensor_index: u32) -> Result<Self, SensorError> {
        within("noise standard deviation", sd_kelvin, "K", 0.0, 50.0)?;
        let chance = Chance::new(seed, sensor_index, Stream::Noise);
        Ok(Self {
            chance,
            kelvin_per_unit: sd_kelvin / VARIANCE.sqrt(),
        })
    }

    /// Returns the deviation of one reading in kelvin.
    #[must_use]
    pub fn kelvin(&self, reading_index: u64) -> f64 {
        if self.kelvin_per_unit <= 0.0 {
            return 0.0;
        }
        (f64::from(sum_of_bytes(self.chance.bits(reading_index))) - MEAN) * self.kelvin_per_unit
    }
}

/// Adds the eight bytes of a word, all at once: first pairs into 16 bits each, then the multiplication piles the
/// four pairs up in the top 16 bits.
fn sum_of_bytes(word: u64) -> u16 {
    const EVEN: u64 = 0x00ff_00ff_00ff_00ff;
    let pairs = (word & EVEN) + ((word >> 8) & EVEN);
    (pairs.wrapping_mul(0x0001_0001_0001_0001) >> 48) as u16
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const READINGS: u64 = 1_000_000;

    fn million(noise: &Noise) -> impl Iterator<Item = f64> {
        (0..READINGS).map(|index| noise.kelvin(index))
    }

    // With n = 1e6 the standard error of the mean is sd/1000, of the standard deviation sd/1414; five of each.
    #[test]
    fn mean_and_deviation_are_the_stated_ones() {
        for (seed, sd_kelvin) in [(1, 0.043), (2, 0.2), (u64::MAX, 1.0)] {
            let noise = Noise::new(sd_kelvin, seed, 0).unwrap();
            let mean = million(&noise).sum::<f64>() / READINGS as f64;
            let variance = million(&noise)
                .map(|kelvin| (kelvin - mean).powi(2))
                .sum::<f64>()
                / READINGS as f64;
            assert!(mean.abs() < 5e-3 * sd_kelvin, "{mean}");
            assert!(
                (variance.sqrt() / sd_kelvin - 1.0).abs() < 3.6e-3,
                "{}",
                variance.sqrt()
            );
        }
    }

    // Normal distribution: 68.27, 95.45, 99.73 % within 1, 2, 3 standard deviations; one percent point allowed.
    #[test]
    fn shares_within_one_two_three_deviations_are_nearly_gaussian() {
        let noise = Noise::new(1.0, 7, 3).unwrap();
        for (bound, share) in [(1.0, 0.6827), (2.0, 0.9545), (3.0, 0.9973)] {
            let within = million(&noise)
                .filter(|kelvin| kelvin.abs() < bound)
                .count() as f64
                / READINGS as f64;
            assert!((within - share).abs() < 0.01, "{bound}: {within}");
        }
    }

    // Independent numbers correlate by 1/sqrt(n) = 0.001; five of it.
    #[test]
    fn neighbours_in_reading_sensor_and_seed_are_unrelated() {
        let noise = Noise::new(1.0, 7, 3).unwrap();
        let other_sensor = Noise::new(1.0, 7, 4).unwrap();
        let other_seed = Noise::new(1.0, 8, 3).unwrap();
        let correlation = |other: &Noise, lag: u64| {
            (0..READINGS)
                .map(|index| noise.kelvin(index) * other.kelvin(index + lag))
                .sum::<f64>()
                / READINGS as f64
        };
        for found in [
            correlation(&noise, 1),
            correlation(&other_sensor, 0),
            correlation(&other_seed, 0),
        ] {
            assert!(found.abs() < 0.005, "{found}");
        }
    }

    #[test]
    fn no_two_streams_share_their_chance() {
        let streams = (0..100).flat_map(|sensor_index| {
            [Stream::Noise, Stream::Contact]
                .map(|stream| Chance::new(7, sensor_index, stream).bits(0))
        });
        assert_eq!(
            streams.collect::<std::collections::BTreeSet<u64>>().len(),
            200
        );
    }

    // Pins the function: a change of it would change every recorded run.
    #[test]
    fn same_seed_gives_the_same_noise_for_ever() {
        let noise = Noise::new(1.0, 42, 0).unwrap();
        let units = [0, 1, 2, u64::MAX]
            .map(|index| (noise.kelvin(index) / noise.kelvin_per_unit).round() as i32);
        assert_eq!(units, [-386, -107, -412, 1]);
    }

    #[test]
    fn negative_deviation_is_refused() {
        let refusal = Noise::new(-0.1, 0, 0).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "noise standard deviation is -0.1 K, outside 0 to 50 K"
        );
    }

    proptest! {
        #[test]
        fn bytes_are_added_as_one_by_one(word: u64) {
            prop_assert_eq!(sum_of_bytes(word), word.to_le_bytes().iter().map(|&byte| u16::from(byte)).sum::<u16>());
        }
    }
}
