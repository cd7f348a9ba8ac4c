//! The trapezoid of speed over time of one move.

/// How much farther than `2 a d` the squared speeds may differ, relative to the largest: rounding only.
const ROUNDING: f64 = 1e-9;

/// Holds how one move's speed rises, stays and falls.
///
/// # Source
/// Uniform acceleration (textbook kinematics): `v^2 = v0^2 + 2 a d`. With distance d, cruise speed v, acceleration a,
/// entry v0 and exit v1: `peak = min(v, sqrt((2 a d + v0^2 + v1^2) / 2))`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Profile {
    /// Speed at the start.
    pub entry_mm_per_s: f64,
    /// Highest speed.
    pub peak_mm_per_s: f64,
    /// Speed at the end.
    pub exit_mm_per_s: f64,
    /// Time to reach the peak.
    pub accelerate_s: f64,
    /// Time at the peak.
    pub cruise_s: f64,
    /// Time to fall to the exit speed.
    pub brake_s: f64,
}

impl Profile {
    /// Finds the fastest profile, none if the exit speed cannot be reached from the entry speed within the distance.
    ///
    /// Entry and exit must not be above the cruise speed; all arguments are finite, acceleration and cruise above 0.
    pub fn fastest(
        distance_mm: f64,
        entry_mm_per_s: f64,
        cruise_mm_per_s: f64,
        exit_mm_per_s: f64,
        acceleration_mm_per_s2: f64,
    ) -> Option<Self> {
        let (entry_squared, exit_squared) = (
            entry_mm_per_s * entry_mm_per_s,
            exit_mm_per_s * exit_mm_per_s,
        );
        let reach = 2.0 * acceleration_mm_per_s2 * distance_mm;
        let excess = (entry_squared - exit_squared).abs() - reach;
        if excess > ROUNDING * entry_squared.max(exit_squared) {
            return None;
        }
        let free_squared = f64::midpoint(reach, entry_squared + exit_squared);
        let cruise_squared = cruise_mm_per_s * cruise_mm_per_s;
        let (peak_mm_per_s, cruise_mm) = if free_squared <= cruise_squared {
            // Rounding must not put the peak below one of the ends.
            (
                free_squared.sqrt().max(entry_mm_per_s).max(exit_mm_per_s),
                0.0,
            )
        } else {
            (
                cruise_mm_per_s,
                (free_squared - cruise_squared) / acceleration_mm_per_s2,
            )
        };
        Some(Self {
            entry_mm_per_s,
            peak_mm_per_s,
            exit_mm_per_s,
            accelerate_s: (peak_mm_per_s - entry_mm_per_s) / acceleration_mm_per_s2,
            cruise_s: if cruise_mm > 0.0 {
                cruise_mm / peak_mm_per_s
            } else {
                0.0
            },
            brake_s: (peak_mm_per_s - exit_mm_per_s) / acceleration_mm_per_s2,
        })
    }

    /// Gives the time of the whole move.
    pub fn duration_s(&self) -> f64 {
        self.accelerate_s + self.cruise_s + self.brake_s
    }

    /// Gives the distance of the whole move, from the areas under the speed.
    pub fn distance_mm(&self) -> f64 {
        f64::midpoint(self.entry_mm_per_s, self.peak_mm_per_s) * self.accelerate_s
            + self.peak_mm_per_s * self.cruise_s
            + f64::midpoint(self.peak_mm_per_s, self.exit_mm_per_s) * self.brake_s
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    // Source: uniform acceleration, worked by hand for these eight rows: distance, cruise, acceleration, both ends, then
    // peak and time as rounded there.
    const TIMING_TABLE: [(f64, f64, f64, f64, f64, f64); 8] = [
        (100.0, 60.0, 500.0, 0.0, 60.0, 1.7867),
        (100.0, 60.0, 500.0, 10.0, 60.0, 1.7500),
        (1.0, 60.0, 500.0, 0.0, 22.361, 0.089_44),
        (1.0, 60.0, 500.0, 10.0, 24.495, 0.057_98),
        (0.2, 60.0, 500.0, 0.0, 10.0, 0.040_00),
        (100.0, 150.0, 1500.0, 0.0, 150.0, 0.7667),
        (10.0, 150.0, 1500.0, 0.0, 122.474, 0.163_30),
        (20.0, 150.0, 3000.0, 0.0, 150.0, 0.183_33),
    ];

    #[test]
    fn gives_the_peak_and_time_of_the_timing_table() {
        for (distance, cruise, acceleration, ends, peak, time) in TIMING_TABLE {
            let profile = Profile::fastest(distance, ends, cruise, ends, acceleration).unwrap();
            // Half a unit of the last digit printed.
            assert!(
                (profile.peak_mm_per_s - peak).abs() <= 0.0005,
                "{distance} mm: peak {}",
                profile.peak_mm_per_s
            );
            let digit = if time < 0.1 { 5e-6 } else { 5e-5 };
            assert!(
                (profile.duration_s() - time).abs() <= digit,
                "{distance} mm: {} s",
                profile.duration_s()
            );
        }
    }

    #[test]
    fn braking_that_needs_more_way_than_there_is_has_no_profile() {
        // From 100 mm/s at 500 mm/s2 a stop takes 100^2 / (2 * 500) = 10 mm.
        assert!(Profile::fastest(9.99, 100.0, 100.0, 0.0, 500.0).is_none());
        assert!(Profile::fastest(10.0, 100.0, 100.0, 0.0, 500.0).is_some());
    }

    #[test]
    fn no_part_is_negative_where_rounding_leaves_a_hair_too_little_way() {
        // 10 mm are needed; a ten-thousand-millionth less is taken as enough.
        for (entry, exit) in [(100.0, 0.0), (0.0, 100.0)] {
            let profile =
                Profile::fastest(10.0 * (1.0 - 1e-10), entry, 1000.0, exit, 500.0).unwrap();
            assert!(
                profile.accelerate_s >= 0.0 && profile.brake_s >= 0.0,
                "{profile:?}"
            );
        }
    }

    proptest! {
        #[test]
        fn covers_exactly_its_distance_and_keeps_below_cruise(
            distance in 1e-3..1e3_f64, cruise in 1.0..500.0_f64, acceleration in 10.0..2e4_f64,
            entry_part in 0.0..1.0_f64, exit_part in 0.0..1.0_f64,
        ) {
            let entry = entry_part * cruise;
            let span = 2.0 * acceleration * distance;
            let lowest = (entry * entry - span).max(0.0).sqrt();
            let highest = (entry * entry + span).sqrt().min(cruise);
            let exit = lowest + exit_part * (highest - lowest);
            let profile = Profile::fastest(distance, entry, cruise, exit, acceleration).unwrap();
            prop_assert!((profile.distance_mm() - distance).abs() <= 1e-6 * distance.max(1.0));
            prop_assert!(profile.peak_mm_per_s <= cruise * (1.0 + 1e-12));
            prop_assert!(profile.accelerate_s >= 0.0 && profile.cruise_s >= 0.0 && profile.brake_s >= 0.0);
            // No profile can beat its cruise speed.
            prop_assert!(profile.duration_s() >= distance / cruise * (1.0 - 1e-9));
        }
    }
}
