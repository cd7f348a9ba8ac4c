//! A number with what it may be off by.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// Is an estimate by least squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard error, in the unit of the value.
    pub standard_error: f64,
    /// Readings beyond the parameters.
    pub degrees_of_freedom: usize,
}

impl Estimate {
    /// Gives the ends of its 95 % interval, by Student's t distribution.
    pub fn interval_95(&self) -> (f64, f64) {
        let freedom = f64::from(u32::try_from(self.degrees_of_freedom.max(1)).unwrap_or(u32::MAX));
        let quantile =
            StudentsT::new(0.0, 1.0, freedom).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975));
        let off_by = quantile * self.standard_error;
        (self.value - off_by, self.value + off_by)
    }
}

/// Is an estimate, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub enum Known {
    /// It follows from the readings.
    Known(Estimate),
    /// It does not, and why: a sentence without its end.
    Unknown(String),
}

impl Known {
    /// Gives the estimate, if there is one.
    pub fn estimate(&self) -> Option<&Estimate> {
        match self {
            Self::Known(estimate) => Some(estimate),
            Self::Unknown(_) => None,
        }
    }
}
