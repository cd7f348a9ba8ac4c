//! Why nothing could be judged.

use coldbed_mock::dialect::DialectError;
use coldbed_mock::scenario::ScenarioError;

use crate::check::SelectError;
use crate::run::RunError;

/// Says why a bench gave no report.
#[derive(Debug, thiserror::Error)]
pub enum BenchError {
    /// There is no built-in dialect of that name.
    #[error("there is no built-in dialect `{0}`")]
    NoDialect(String),
    /// A dialect's text is wrong.
    #[error("the dialect cannot be read")]
    Dialect(#[source] Box<DialectError>),
    /// There is no built-in scenario of that name.
    #[error("there is no built-in scenario `{0}` [see `coldbed list`]")]
    NoScenario(String),
    /// A scenario's text is wrong.
    #[error("the scenario cannot be read")]
    Scenario(#[source] Box<ScenarioError>),
    /// No check was selected, or one that is none.
    #[error("nothing to judge")]
    Select(#[source] SelectError),
    /// There is no area of that name.
    #[error("there is no area `{0}` of the catalogue")]
    NoArea(String),
    /// The watcher could not be measured or run.
    #[error("the watcher could not be run")]
    Run(#[from] RunError),
}
