//! Gives moves their speeds and times: trapezoid profiles, speeds round corners, and a window that looks ahead.
//!
//! It owns no program text and no machine state: a move in, a timed move out, in order, in bounded memory.

mod corner;
mod limits;
mod profile;
mod segment;
mod window;

pub use limits::{AxisSpeeds, CornerRule, MotionLimits};
pub use profile::Profile;
pub use segment::Segment;
pub use window::{LookAhead, Planned};

#[cfg(test)]
pub(super) use corner::corner_speed_squared;
