//! Why a program has no plan.

use std::io;

use thiserror::Error;

use crate::sim::motion::bounds::OutOfBounds;
use crate::sim::motion::interpreter::CodeFault;
use crate::sim::motion::reader::BrokenLine;

/// Says why a program has no plan.
#[derive(Debug, Error)]
pub enum PlanError {
    /// The input failed.
    #[error("program could not be read")]
    Input(#[from] io::Error),
    /// A line cannot be carried out and the caller asked to stop at such.
    #[error(transparent)]
    Line(#[from] BrokenLine<CodeFault>),
    /// A number of the options is outside its bound.
    #[error("plan option: {0}")]
    Options(OutOfBounds),
    /// The program waits or dwells so often that the plan grows beyond its bound.
    #[error(
        "plan needs more than {max_steps} steps at line {line} (raise the bound, or dwell less often)"
    )]
    TooManySteps {
        /// The bound.
        max_steps: usize,
        /// The line where it was reached.
        line: u64,
    },
}

impl From<OutOfBounds> for PlanError {
    fn from(error: OutOfBounds) -> Self {
        Self::Options(error)
    }
}
