//! What the protection gets to see at one moment.

use std::time::Duration;

use super::super::sensor::Reading;

/// What the protection gets to see at one moment: the host's view, not the truth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observation {
    /// Virtual time since the start. A moment before that of the last observation counts as no time passed.
    pub at: Duration,
    /// What the host has of the temperature.
    pub reading: Reading,
    /// Target in degrees Celsius, `None` with the heater off.
    pub target_celsius: Option<f64>,
    /// Share of full power that the controller asks for, 0 to 1.
    pub power_fraction: f64,
}
