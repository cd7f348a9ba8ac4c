//! What a recorded session tells a watcher, as far as a dialect reads it and its user expects it.
//!
//! Owns: how an answer of a session is heard ([`Heard`]), by a dialect's [`Hearing`], and what the user
//! says of it besides ([`Expectations`]). Pure: playing a session is `run::replayed`'s, judging
//! `oracle::recorded`'s.

mod expect;
mod heard;
mod hearing;
#[cfg(test)]
mod tests;

pub use expect::{Expectations, ExpectationsError};
pub use heard::{Heard, Said};
pub use hearing::Hearing;
