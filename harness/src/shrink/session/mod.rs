//! The smallest session on which something still fails.
//!
//! Owns: what can be left out of a session, in which order, and how. First exchanges, which take most of it
//! away, then what was pushed, then members of JSON bodies from the outside in (hierarchical delta
//! debugging: Misherghi and Su, ICSE 2006, from memory), then fields. Does not own: what failing is.

mod json;
mod parts;
mod stages;
#[cfg(test)]
mod tests;

pub use stages::{Reduction, Stage, Told, reduce};
