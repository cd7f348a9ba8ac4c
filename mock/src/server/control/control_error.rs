//! Why a change cannot be made.

use crate::dialect::UnknownVersion;
use crate::fault::{ScopeError, Span};
use crate::scenario::ScenarioError;
use crate::server::ClockError;

/// Says why a change cannot be made. Nothing has changed then.
#[derive(Debug, thiserror::Error)]
pub enum ControlError {
    /// The clock cannot be set so.
    #[error(transparent)]
    Clock(#[from] ClockError),
    /// The clock would run too fast.
    #[error("rate {rate} is more than {most} virtual seconds per real second")]
    TooFast {
        /// The rate asked for.
        rate: f64,
        /// The highest.
        most: f64,
    },
    /// The clock would be put too far.
    #[error("a clock is put no further than {} after the start", Span::LONGEST)]
    TooFar,
    /// The fault cannot have the scope.
    #[error(transparent)]
    Scope(#[from] ScopeError),
    /// The fault needs a host that speaks TLS.
    #[error("`{fault}` needs a host that speaks TLS [start it with --tls FILE]")]
    NeedsTls {
        /// The fault's name.
        fault: String,
    },
    /// There is nothing of that number.
    #[error("no {what} of number {id} is raised [it is cleared, or was never raised here]")]
    NotRaised {
        /// `fault` or `drift`.
        what: &'static str,
        /// The number.
        id: u64,
    },
    /// There are as many as can be.
    #[error("{most} {what}s are raised, and no more can be [clear one]")]
    TooMany {
        /// `fault` or `drift`.
        what: &'static str,
        /// How many can be.
        most: usize,
    },
    /// What is to happen cannot be understood, or does not fit the scenario.
    #[error("{}", words(.0))]
    Event(ScenarioError),
    /// The host is to be updated to a version that the dialect does not have.
    #[error(transparent)]
    Version(#[from] UnknownVersion),
    /// The log's file cannot be written, and what is not logged is not done.
    #[error("the log cannot be written ({problem}), so nothing is changed any more")]
    Log {
        /// What the system says.
        problem: String,
    },
}

/// Says what is wrong with an event, without a file that nobody has written.
fn words(error: &ScenarioError) -> String {
    match error.field.is_empty() {
        true => error.problem.clone(),
        false => format!("{}: {}", error.field, error.problem),
    }
}
