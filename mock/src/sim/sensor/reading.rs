//! One reading, as the host has it.

use std::fmt;

/// Says which way a sensor circuit is broken, as far as its host can tell from the ADC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Break {
    /// No current flows: a cut lead or a plug that came off.
    Open,
    /// The two leads touch.
    Short,
}

impl fmt::Display for Break {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Open => "open",
            Self::Short => "short",
        })
    }
}

/// What the host got out of one reading.
///
/// Many hosts know no "not available" and report the end of their conversion range as if it were a temperature:
/// [`Rails`](super::Rails) chooses which kind of host this is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reading {
    /// A temperature in degrees Celsius, right or wrong.
    Celsius(f64),
    /// The host noticed that the circuit is broken.
    NotAvailable(Break),
}

impl Reading {
    /// Returns the temperature in degrees Celsius, if the host has one.
    #[must_use]
    pub const fn celsius(self) -> Option<f64> {
        match self {
            Self::Celsius(celsius) => Some(celsius),
            Self::NotAvailable(_) => None,
        }
    }
}
