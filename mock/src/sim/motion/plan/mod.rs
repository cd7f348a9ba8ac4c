//! Plans a whole program in one pass and keeps it as few steps.
//!
//! Waits for heat and for people have no length here: the machine that walks the plan decides when they are over.

mod broken;
mod builder;
mod chunk;
mod cursor;
mod error;
mod layer;
mod options;
mod step;
mod steps;
mod sum;
mod totals;

pub use broken::{BrokenLines, OnBrokenLine};
pub use builder::plan_program;
pub use chunk::MotionChunk;
pub use cursor::{Activity, Cursor, Moment, Walked};
pub use error::PlanError;
pub use options::PlanOptions;
pub use step::{Place, ProgramStep};
pub use totals::{Plan, Totals};
