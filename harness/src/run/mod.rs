//! Carrying checks out: one dispatcher, many runs side by side.
//!
//! The only part of the harness with a clock, processes and sockets. It collects events; what they
//! mean is for [`crate::oracle`] to say.

mod calibrate;
mod delay;
mod dispatch;
mod error;
mod execute;
mod recorder;
mod stage;

pub use calibrate::{Calibration, calibrate};
pub(crate) use dispatch::builtin;
pub use dispatch::{CheckResult, run_all};
pub use error::RunError;
pub use execute::execute;
pub use recorder::Recorder;
pub use stage::Setting;
