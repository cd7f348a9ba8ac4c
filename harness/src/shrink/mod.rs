//! Searching for what a watcher cannot bear, and making it small.
//!
//! Owns: generated plans of troubles ([`plans`]), the way from a failing plan to the smallest one that
//! still fails ([`smallest`]), and how a plan is written as a scenario file ([`TroublePlan::text`]).
//! Does not own: running a plan, which is [`crate::run`]'s, and judging it, which is
//! [`crate::oracle::verify_general`]'s.

pub mod delta;
mod minimise;
mod plan;
mod scenario_text;
pub mod session;
mod strategies;
#[cfg(test)]
mod tests;

pub use minimise::{Smallest, smallest};
pub use plan::{BEAT, PlannedTrouble, TroublePlan};
pub use scenario_text::NotWritable;
pub use strategies::{body_of, faults, plan_number, plans};
