//! The words for what the printer and its job are doing.

use serde::{Deserialize, Serialize};

/// Says what the printer is doing in the words a person uses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Phase {
    /// Nothing to do: no job, or one that waits.
    Idle,
    /// A job waits for its heaters, or somebody warms the machine by hand.
    Heating,
    /// The job's program runs.
    Printing,
    /// The job stands still and can go on: operator pause, filament run-out.
    Paused,
    /// The printer stopped itself; somebody must act.
    Error,
    /// The job came to its end.
    Finished,
    /// The job was given up on request.
    Cancelled,
}

impl Phase {
    /// Lists every phase, in the order of this type.
    pub const ALL: [Self; 7] = [
        Self::Idle,
        Self::Heating,
        Self::Printing,
        Self::Paused,
        Self::Error,
        Self::Finished,
        Self::Cancelled,
    ];

    /// Gives the word as it is written in files and reports.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Idle => "idle",
            Self::Heating => "heating",
            Self::Printing => "printing",
            Self::Paused => "paused",
            Self::Error => "error",
            Self::Finished => "finished",
            Self::Cancelled => "cancelled",
        }
    }
}

impl std::fmt::Display for Phase {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(self.word())
    }
}

/// Is the printer's state, `printer-state`.
///
/// # Source
/// RFC 8011 section 5.4.11.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum PrinterState {
    /// A new job can start at once.
    Idle,
    /// A job is processing.
    Processing,
    /// No job can be processed until somebody acts.
    Stopped,
}

/// Is the job's state, `job-state`, with the spelling of the registry (`canceled`).
///
/// # Source
/// RFC 8011 section 5.3.7, Figure 3.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum JobState {
    /// Waits for its turn.
    Pending,
    /// Held back until released.
    PendingHeld,
    /// Heats or prints.
    Processing,
    /// Stands still in the middle.
    ProcessingStopped,
    /// Given up on request.
    Canceled,
    /// Given up by the printer.
    Aborted,
    /// Came to its end.
    Completed,
}

impl JobState {
    /// Tells whether the job can never change again.
    pub const fn is_terminal(self) -> bool {
        matches!(self, Self::Canceled | Self::Aborted | Self::Completed)
    }
}

/// Names what a heater heats, in the words of the IANA IPP registry (PWG 5100.21 keywords).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HeaterKind {
    /// Melts the filament.
    Extruder,
    /// Carries the print.
    Platform,
    /// Encloses both.
    Chamber,
}

impl HeaterKind {
    /// Lists every kind.
    pub const ALL: [Self; 3] = [Self::Extruder, Self::Platform, Self::Chamber];

    /// Gives the word that the registry's keywords begin with.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Extruder => "extruder",
            Self::Platform => "platform",
            Self::Chamber => "chamber",
        }
    }
}

impl std::fmt::Display for HeaterKind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(self.word())
    }
}
