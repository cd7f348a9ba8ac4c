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

    /// Takes in what lies between two bounds that are somebody else's, and keeps away from both by
    /// more than rounding can move them.
    pub(in crate::sim) fn well_between(low_celsius: f64, high_celsius: f64) -> Self {
        const MARGIN_KELVIN: f64 = 1e-6;
        Self {
            low_celsius: low_celsius + MARGIN_KELVIN,
            high_celsius: high_celsius - MARGIN_KELVIN,
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

    const fn span(low_celsius: f64, high_celsius: f64) -> Span {
        Span {
            low_celsius,
            high_celsius,
        }
    }

    #[test]
    fn ends_are_in_and_no_number_never_is() {
        let span = span(10.0, f64::INFINITY).and(span(f64::NEG_INFINITY, 20.0));
        assert!(span.contains(10.0) && span.contains(20.0));
        assert!(!span.contains(9.9) && !span.contains(20.1));
        assert!(!span.contains(f64::NAN) && !Span::ALL.contains(f64::NAN));
    }

    #[test]
    fn what_lies_in_neither_or_in_one_of_two_is_not_in_both() {
        let apart = span(20.0, f64::INFINITY).and(span(f64::NEG_INFINITY, 10.0));
        assert!(!Span::NONE.contains(0.0) && !apart.contains(15.0));
    }

    #[test]
    fn bounds_of_somebody_else_are_kept_away_from() {
        let span = Span::well_between(10.0, 20.0);
        assert!(span.contains(10.00001) && span.contains(19.99999));
        assert!(!span.contains(10.0) && !span.contains(20.0));
        assert!(Span::well_between(f64::NEG_INFINITY, f64::INFINITY) == Span::ALL);
    }
}
