//! A range of readings.

/// Is a range of readings, both ends in it, in degrees Celsius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::sim) struct Span {
    low_celsius: f64,
    high_celsius: f64,
}

impl Span {
    /// No reading is in it.
    pub(in crate::sim) const NONE: Self = Self {
        low_celsius: f64::INFINITY,
        high_celsius: f64::NEG_INFINITY,
    };

    /// Every reading that is a number is in it.
    pub(in crate::sim) const ALL: Self = Self {
        low_celsius: f64::NEG_INFINITY,
        high_celsius: f64::INFINITY,
    };

    /// Takes in this reading and all hotter ones.
    pub(in crate::sim) fn from(low_celsius: f64) -> Self {
        Self {
            low_celsius,
            ..Self::ALL
        }
    }

    /// Takes in this reading and all colder ones.
    pub(in crate::sim) fn up_to(high_celsius: f64) -> Self {
        Self {
            high_celsius,
            ..Self::ALL
        }
    }

    /// Takes in what both take in.
    #[must_use]
    pub(in crate::sim) fn and(self, other: Self) -> Self {
        Self {
            low_celsius: self.low_celsius.max(other.low_celsius),
            high_celsius: self.high_celsius.min(other.high_celsius),
        }
    }

    /// Tells whether a reading is in it; one that is no number never is.
    #[inline]
    pub(in crate::sim) fn contains(&self, celsius: f64) -> bool {
        (self.low_celsius <= celsius) & (celsius <= self.high_celsius)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_in_and_no_number_never_is() {
        let span = Span::from(10.0).and(Span::up_to(20.0));
        assert!(span.contains(10.0) && span.contains(20.0));
        assert!(!span.contains(9.9) && !span.contains(20.1));
        assert!(!span.contains(f64::NAN) && !Span::ALL.contains(f64::NAN));
        assert!(
            !Span::NONE.contains(0.0) && !Span::from(20.0).and(Span::up_to(10.0)).contains(15.0)
        );
    }
}
