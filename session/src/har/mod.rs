//! Sessions as HTTP Archives, version 1.2, and back.
//!
//! Owns: the members of the archive that are used here ([`Archive`]), writing one ([`export()`]) and
//! reading one of whatever wrote it ([`import()`]). What an archive has no place for — connections, resets,
//! pieces, pushed events — is kept in a member of our own, `_coldbed`, as the format allows for names
//! with a leading underscore; an archive written here is read back without loss.
//!
//! # Source
//! "HTTP Archive (HAR) format", W3C Web Performance Working Group, historical draft of 14 August 2012
//! (members from memory).

mod export;
mod import;
#[cfg(test)]
mod tests;
mod types;

pub use export::export;
pub use import::{ImportError, Imported, import};
pub use types::Archive;
