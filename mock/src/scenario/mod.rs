//! Scenarios: text in, a checked plan for the simulated printer out.
//!
//! Owns: the file format, its limits and its error messages, and the built-in files.
//! Does not own: what the printer makes of the plan (that is [`crate::sim`]).
//!
//! A file is read in two steps. `raw` says which keys there are and of which type, and keeps the
//! place of each value; `checked` holds every value against `bounds` and gives the types that all
//! later code trusts.

mod bounds;
mod builtin;
mod checked;
mod error;
mod quantity;
mod raw;

pub use builtin::BUILTIN;
pub use checked::{Action, ControlPlan, Event, HeaterPlan, JobPlan, ProtectionPlan, Scenario};
pub use error::ScenarioError;

#[cfg(test)]
mod tests;
