//! What changed at a host between two sessions, in structure and in kinds of values.
//!
//! Values that merely vary are no difference: temperatures, times, progress. What counts is listed at
//! [`What`]; the rules are an own choice.

mod changes;
mod profile;
#[cfg(test)]
mod tests;

pub use changes::{Difference, What, diff};
