//! The quantities a watcher may claim, by name.

use std::fmt;

/// Names one quantity of a sighting.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Quantity {
    /// The phase.
    Phase,
    /// A heater's actual temperature.
    Actual(String),
    /// A heater's target.
    Target(String),
    /// Whether a heater is on.
    On(String),
    /// Progress.
    Progress,
    /// Elapsed time.
    Elapsed,
    /// Remaining time.
    Remaining,
    /// The job's name.
    JobName,
    /// Why the printer is in error.
    Reason,
    /// Whether the hot parts may be touched.
    Safe,
}

impl fmt::Display for Quantity {
    /// Writes the name as the key of a watcher file.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = match self {
            Self::Phase => "phase",
            Self::Actual(heater) => return f.pad(&format!("{heater}.actual-celsius")),
            Self::Target(heater) => return f.pad(&format!("{heater}.target-celsius")),
            Self::On(heater) => return f.pad(&format!("{heater}.on")),
            Self::Progress => "progress-percent",
            Self::Elapsed => "elapsed-seconds",
            Self::Remaining => "remaining-seconds",
            Self::JobName => "job-name",
            Self::Reason => "reason",
            Self::Safe => "safe-to-touch",
        };
        f.pad(name)
    }
}
