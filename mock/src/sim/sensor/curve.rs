//! Any curve between temperature and resistance.

use super::ntc::{Beta, NtcTable, SteinhartHart};
use super::platinum::Platinum;

/// A curve between temperature and resistance, of a real element or of a host's idea of it.
#[derive(Clone, Debug, PartialEq)]
pub enum Curve {
    /// A thermistor by its maker's table.
    NtcTable(NtcTable),
    /// A thermistor by the beta formula.
    NtcBeta(Beta),
    /// A thermistor by the Steinhart-Hart equation.
    NtcSteinhartHart(SteinhartHart),
    /// A platinum sensor.
    Platinum(Platinum),
}

impl Curve {
    /// Returns the resistance in ohm at a temperature.
    #[must_use]
    pub fn ohms(&self, celsius: f64) -> f64 {
        match self {
            Self::NtcTable(curve) => curve.ohms(celsius),
            Self::NtcBeta(curve) => curve.ohms(celsius),
            Self::NtcSteinhartHart(curve) => curve.ohms(celsius),
            Self::Platinum(curve) => curve.ohms(celsius),
        }
    }

    /// Returns the temperature in degrees Celsius at a resistance in ohm, 0 and infinity included.
    #[must_use]
    pub fn celsius(&self, ohms: f64) -> f64 {
        match self {
            Self::NtcTable(curve) => curve.celsius(ohms),
            Self::NtcBeta(curve) => curve.celsius(ohms),
            Self::NtcSteinhartHart(curve) => curve.celsius(ohms),
            Self::Platinum(curve) => curve.celsius(ohms),
        }
    }
}
