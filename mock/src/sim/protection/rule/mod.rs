//! One rule a file: its bounds, and what it has to remember between observations.

mod above_target;
mod dwell;
mod fallen_away;
mod heating_too_slow;
mod jump;
mod limits;
mod sensor_lost;

pub use above_target::AboveTarget;
pub(super) use above_target::AboveTargetWatch;
pub use fallen_away::FallenAway;
pub(super) use fallen_away::FallenAwayWatch;
pub use heating_too_slow::HeatingTooSlow;
pub(super) use heating_too_slow::HeatingTooSlowWatch;
pub(super) use jump::JumpWatch;
pub use jump::{Jump, JumpBound};
pub(super) use limits::LimitWatch;
pub use limits::{AboveMaximum, BelowMinimum};
pub use sensor_lost::SensorLost;
pub(super) use sensor_lost::SensorLostWatch;

use std::time::Duration;

/// An observation with a temperature in it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    pub(super) at: Duration,
    pub(super) celsius: f64,
    pub(super) target_celsius: Option<f64>,
    pub(super) power_fraction: f64,
}

/// Tells whether two targets are the same setting, bit for bit.
fn same_target(one: Option<f64>, other: Option<f64>) -> bool {
    one.map(f64::to_bits) == other.map(f64::to_bits)
}
