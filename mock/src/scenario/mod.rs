//! Scenarios: text in, a checked plan for the simulated printer out.
//!
//! Owns: the file format, its limits and its error messages, and the built-in files.
//! Does not own: what the printer makes of the plan (that is [`crate::sim`]), and opening files: a
//! caller that allows them lends [`Files`].
//!
//! The way of a text: `file` follows `include` to the files below it, `merge` lays each over the one
//! it includes, `raw` says which keys there are and of which type, and keeps the place of each value,
//! and `check` holds every value against `bounds` and gives the types of [`plan`], which all later
//! code trusts.

mod bounds;
mod builtin;
mod check;
mod error;
mod file;
mod issued;
mod load;
mod merge;
pub mod plan;
mod quantity;
mod raw;
mod schema;
mod updates;
mod wire;

pub use builtin::{BUILTIN, PRINTERS};
pub use error::{ScenarioError, unknown_word};
pub use file::Files;
pub(crate) use file::NoFiles;
pub use plan::{
    Action, ControlPlan, EstimatePlan, Estimator, Event, HeaterPlan, JobPlan, MaterialPlan,
    PlannedProgram, Program, ProgressMeasure, ProgressPlan, Repeat, RoomPlan, Scenario, Stall,
    Start, When,
};
pub use schema::{as_toml_has_it, describe_only_keys, schema};

#[cfg(test)]
mod tests;
