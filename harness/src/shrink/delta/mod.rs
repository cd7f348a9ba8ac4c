//! Delta debugging: from a set of things that fails together to one from which nothing can be left out.
//!
//! Owns: the algorithm ([`ddmin()`]), which knows nothing of what the things are, and how trials are run
//! side by side without changing the result ([`Trials`]). Does not own: what a trial is.
//!
//! # Source
//! Zeller and Hildebrandt, "Simplifying and Isolating Failure-Inducing Input", IEEE Transactions on
//! Software Engineering 28(2), 2002, section 3.2 (from memory).

mod ddmin;
#[cfg(test)]
mod tests;
mod trials;

pub use ddmin::ddmin;
pub use trials::{Trial, Trials};
