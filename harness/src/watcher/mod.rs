//! The client under test: how it is started, and what it claims.
//!
//! Owns the process and the reading of its output. Judges nothing.

mod command;
mod process;
mod sighting;

pub use command::CommandKind;
pub use process::{Call, Output, Resources, RunningWatcher, StartError, Watcher};
pub use sighting::{Claim, HeaterSighting, PhaseClaim, Sighting};
