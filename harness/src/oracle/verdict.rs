//! What an oracle may say.

use std::time::Duration;

/// Is the outcome of one check.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// The rule was kept.
    Held {
        /// What is worth knowing all the same, such as how late the finish was noticed.
        note: String,
    },
    /// The rule was broken.
    Violated(Violation),
    /// There was nothing to judge by.
    NotJudged {
        /// Why not.
        reason: String,
    },
}

/// Says how a rule was broken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Violation {
    /// What would have been right.
    pub allowed: String,
    /// What was seen instead.
    pub observed: String,
    /// The moment, as real time since the run began.
    pub at: Duration,
}

impl Verdict {
    /// Says that a rule was broken.
    pub fn violated(at: Duration, allowed: impl Into<String>, observed: impl Into<String>) -> Self {
        Self::Violated(Violation {
            allowed: allowed.into(),
            observed: observed.into(),
            at,
        })
    }

    /// Gives this verdict unless it holds, and else the next.
    #[must_use]
    pub fn and_then(self, next: impl FnOnce() -> Self) -> Self {
        match self {
            Self::Held { .. } => next(),
            other => other,
        }
    }
}
