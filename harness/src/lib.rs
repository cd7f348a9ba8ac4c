//! The harness: it judges a watcher, a small client that keeps an eye on a printer, by evidence.
//!
//! Each [`check`] starts a private mock printer, runs the watcher against it, and collects
//! everything that can be observed as [`event`]s: requests, answers with the truth they carried,
//! the watcher's own claims ([`watcher::Sighting`]s), its end. An [`oracle`] is a pure function from
//! those events to a verdict.
//!
//! It owns no simulation and no wire format: both are `coldbed_mock`'s.

pub mod bench;
pub mod check;
pub mod cli;
mod commands;
pub mod event;
pub mod exit_code;
pub mod oracle;
pub mod plot;
pub mod power;
pub mod recorded;
pub mod reference;
pub mod report;
pub mod run;
pub mod shrink;
pub mod watcher;

pub use commands::dispatch;
