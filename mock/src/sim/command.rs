//! What somebody may ask of the printer, over the wire or at the machine.

use serde::{Deserialize, Serialize};

use super::Phase;

/// Asks the printer for something. Takes effect at the next tick.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Command {
    /// Stop the running job so that it can go on.
    PauseJob,
    /// Let the paused job go on.
    ResumeJob,
    /// Give the job up.
    CancelJob,
    /// Start a job.
    StartJob {
        /// The job's name in the scenario; `None` for the next one that waits or, when none waits,
        /// the last one again.
        job: Option<String>,
    },
    /// Set a heater's target.
    SetTarget {
        /// The heater's name in the scenario.
        heater: String,
        /// The target; 0 switches the heater off.
        celsius: f64,
    },
}

/// Says why the printer did not do what it was asked.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refused {
    /// The command does not fit the present phase.
    #[error("cannot {wanted} while {phase}")]
    WrongPhase {
        /// What was asked, as a verb phrase: `pause the job`.
        wanted: &'static str,
        /// The phase at that moment.
        phase: Phase,
    },
    /// There is no job of that name.
    #[error("no job is called `{name}`")]
    UnknownJob {
        /// The name that was given.
        name: String,
    },
    /// The host knows of no job at all.
    #[error("there is no job to start")]
    NoJob,
    /// There is no heater of that name.
    #[error("no heater is called `{name}`")]
    UnknownHeater {
        /// The name that was given.
        name: String,
    },
    /// The target is outside what the heater may be set to.
    #[error("target of {celsius} C is outside 0 to {max_celsius} C")]
    TargetOutOfRange {
        /// The target that was asked for.
        celsius: f64,
        /// The heater's limit.
        max_celsius: f64,
    },
}
