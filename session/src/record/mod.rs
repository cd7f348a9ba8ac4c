//! The recorder: a reverse proxy between a watcher and its real host that writes what happened.
//!
//! Owns: connections, what is passed on and what is not, and when a line is written. It works on bytes,
//! so that an answer that is broken, cut or no HTTP at all comes to the watcher as it was. Does not own:
//! what a line says, which is [`crate::Line`]'s; what is replaced in it, which is told as a filter.
//!
//! A line is written before the bytes that complete what it tells go on to the watcher: whoever has an
//! answer can be sure that the file has it, too.

mod disk;
mod journal;
mod options;
mod recorder;
mod relay;
mod request;
#[cfg(test)]
mod tests;
mod upstream;

pub use journal::Counts;
pub use options::{Filter, Limits, RecordError, RecordOptions, Upstream};
pub use recorder::Recorder;
