//! Adds many small numbers without losing digits.

/// Sums with a running correction.
///
/// # Source
/// A. Neumaier, "Rundungsfehleranalyse einiger Verfahren zur Summation endlicher Summen" (1974), the improved
/// Kahan-Babuska sum (from memory).
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sum {
    sum: f64,
    lost: f64,
}

impl Sum {
    pub(super) fn add(&mut self, value: f64) {
        let next = self.sum + value;
        self.lost += if self.sum.abs() >= value.abs() {
            (self.sum - next) + value
        } else {
            (value - next) + self.sum
        };
        self.sum = next;
    }

    pub(super) fn total(&self) -> f64 {
        self.sum + self.lost
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_what_plain_addition_loses() {
        let mut sum = Sum::default();
        for value in [1.0, 1e100, 1.0, -1e100] {
            sum.add(value);
        }
        // Plain addition gives 0.
        assert!((sum.total() - 2.0).abs() < f64::EPSILON);
    }
}
