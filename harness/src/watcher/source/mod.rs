//! Where sightings come from.
//!
//! Streams of a process are read in `process.rs`; here are the two that are no process of ours.

mod callback;
mod serial;

#[cfg(test)]
mod tests;

pub(super) use callback::{Callback, CallbackAt};
pub(super) use serial::{Serial, SerialLine};

/// Says where sightings come from.
#[derive(Debug, Clone)]
pub(super) enum Source {
    /// The command's output.
    Stdout,
    /// The command's error output.
    Stderr,
    /// A serial line.
    Serial(SerialLine),
    /// What a device posts.
    Callback(CallbackAt),
}
