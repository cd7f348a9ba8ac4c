//! Credentials replaced by stand-ins before anything is written.
//!
//! Owns: what counts as a credential ([`Rules`]), and the stand-ins ([`Redactor`]). A stand-in is as long
//! as what it stands for, so that lengths, chunks and the places of faults stay as they were; the same
//! secret has the same one throughout a session. What was once seen as a secret is replaced wherever
//! else it turns up, as it is, percent-encoded, escaped in JSON or in base64.
//!
//! What it cannot see: secrets shorter than [`SHORTEST`] bytes away from their own place, secrets that
//! are split over two pushed pieces, and those inside pictures and codings it does not know.

mod credentials;
mod json;
mod redactor;
mod rules;
mod secrets;
#[cfg(test)]
mod tests;

pub use redactor::{Redactor, scrub};
pub use rules::{RuleError, Rules};
pub use secrets::SHORTEST;
