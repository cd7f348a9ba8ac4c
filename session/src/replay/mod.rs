//! A session played again: what the host said, with its timing and its faults.
//!
//! Owns: which recorded exchange answers a request ([`Matching`]), when its bytes go out, and how they
//! end. It writes bytes, so that a reset at byte 312 comes back as a reset at byte 312. Does not own: the
//! session. It asks nobody for a key.

mod connection;
mod options;
mod plan;
mod play;
mod server;
#[cfg(test)]
mod tests;

pub use options::{AtEnd, Matching, ReplayError, ReplayObserver, ReplayOptions};
pub use plan::Routes;
pub use server::{Counts, Replay};
