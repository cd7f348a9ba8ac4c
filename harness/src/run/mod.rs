//! Carrying checks out: one dispatcher, many runs side by side.
//!
//! The only part of the harness with a clock, processes and sockets. It collects events; what they
//! mean is for [`crate::oracle`] to say.

mod attach;
mod calibrate;
mod decide;
mod dispatch;
mod elsewhere;
mod error;
mod execute;
mod gate;
mod in_order;
mod play;
mod recorder;
mod replayed;
mod stage;
mod strain;
mod traffic;

pub use attach::Attach;
pub use calibrate::{Calibration, calibrate};
pub use dispatch::{Attempt, CheckResult, Onlooker, Outcome, Pace, run_all};
pub(crate) use dispatch::{Planned, run_planned};
pub use error::RunError;
pub use execute::{Observed, execute};
pub(crate) use gate::Gate;
pub use recorder::Recorder;
pub use replayed::{OnSession, run_on_session};
pub use stage::Setting;
pub use strain::StrainMeter;
