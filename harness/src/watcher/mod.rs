//! The client under test: how it is started, and what it claims.
//!
//! Owns the process, where sightings come from, and how they are understood. Judges nothing.
//!
//! - [`WatcherFile`] says in a file how a watcher is started and understood (`docs/watcher-files.md`).
//! - [`Watcher::start`] starts it and gives a [`RunningWatcher`]; what it says arrives as [`Output`].
//! - `form/` is the pure part: a line in, claims out. `source/` reads streams, serial devices and what
//!   devices post.

mod call;
mod command;
mod cut;
mod ear;
mod file;
mod form;
mod output;
mod process;
mod resources;
mod running;
mod sighting;
mod sighting_builder;
mod source;
mod standard;
mod start;

#[cfg(test)]
mod tests;

pub use call::Call;
pub use command::CommandKind;
pub use file::{WatcherFile, WatcherFileError};
pub use output::Output;
pub use resources::Resources;
pub use running::RunningWatcher;
pub use sighting::{Claim, HeaterSighting, PhaseClaim, Sighting};
pub use start::{SightingSink, StartError, Watcher};

pub(crate) use ear::Told;
#[cfg(test)]
pub(crate) use form::Reader;
pub(crate) use form::{Finding, Form, Quantity, Reading, Said};
