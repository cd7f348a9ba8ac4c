//! The pure core: a printer as a function of scenario, seed, commands and virtual time.
//!
//! Owns: heaters, control, protection, the job and the [`Truth`] made of them.
//! Does not own: a clock, sockets, files, randomness other than the seed. Nothing here waits.

#[cfg(test)]
mod analytic;
mod command;
pub mod control;
mod heater;
mod heaters;
mod host;
mod in_force;
mod job;
mod keywords;
pub mod motion;
mod phase;
pub mod plant;
mod progress;
pub mod protection;
pub mod sensor;
mod simulation;
mod time;
mod timeline;
pub mod touch;
mod truth;
pub mod tuning;

pub use command::{Command, Refused};
pub use in_force::{Absence, InForce, Trouble, WireChange};
pub use keywords::{JOB_REASONS, printer_reasons};
pub use phase::{HeaterKind, JobState, Phase, PrinterState};
pub use simulation::Simulation;
pub use time::{Tick, VirtualTime};
pub use truth::{HeaterTruth, JobTruth, PrinterTruth, Truth};
