//! The delay line between the element and what is felt of it.

/// Remembers past powers and gives back the one of a dead time ago.
#[derive(Debug, Clone)]
pub(super) struct DeadTime {
    /// Length a power of two, so that wrapping round is a mask and not a division.
    past_watts: Box<[f64]>,
    newest: usize,
    delay: usize,
}

impl DeadTime {
    /// Starts with no power in the line; the dead time is rounded to whole periods.
    pub(super) fn new(dead_time_s: f64, period_s: f64) -> Self {
        // The limits of both make this at most 600 000.
        let delay = (dead_time_s / period_s).round() as usize;
        Self {
            past_watts: vec![0.0; (delay + 1).next_power_of_two()].into_boxed_slice(),
            newest: 0,
            delay,
        }
    }

    /// Takes the power of this period, gives the power that is felt in it.
    #[inline]
    pub(super) fn pass(&mut self, watts: f64) -> f64 {
        let mask = self.past_watts.len() - 1;
        self.past_watts[self.newest & mask] = watts;
        let felt = self.past_watts[self.newest.wrapping_sub(self.delay) & mask];
        self.newest = self.newest.wrapping_add(1);
        felt
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dead_time_is_rounded_to_whole_periods() {
        // 0.3 / 0.1 is a little below 3 in binary.
        for (dead_time_s, delay) in [(0.3, 3), (0.26, 3), (0.24, 2), (0.04, 0)] {
            assert_eq!(DeadTime::new(dead_time_s, 0.1).delay, delay);
        }
    }

    #[test]
    fn gives_each_power_back_after_exactly_the_dead_time() {
        for delay in [0_u8, 1, 2, 3, 4, 7, 8, 40] {
            let mut line = DeadTime::new(f64::from(delay) * 0.1, 0.1);
            let felt: Vec<f64> = (1..=100_u8).map(|k| line.pass(f64::from(k))).collect();
            let expected: Vec<f64> = (1..=100_u8)
                .map(|k| f64::from(k.saturating_sub(delay)))
                .collect();
            assert_eq!(felt, expected, "delay of {delay} periods");
        }
    }
}
