//! What the command's exit status says, so that scripts can rely on it.

use std::process::ExitCode;

/// Says how a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// All musts hold, or the command did what it was asked: 0.
    Done,
    /// The watcher violates a must: 1.
    Violated,
    /// A flag, a file or a name is wrong, or nothing was selected: 2.
    BadInput,
    /// The watcher could not be started, or never got an answer: 3.
    NoWatcher,
    /// Our own fault, such as no free port: 4.
    OwnFault,
}

impl Outcome {
    /// Gives the number.
    pub const fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::Violated => 1,
            Self::BadInput => 2,
            Self::NoWatcher => 3,
            Self::OwnFault => 4,
        }
    }
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        Self::from(outcome.code())
    }
}
