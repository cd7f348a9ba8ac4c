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
    /// The rule was broken, once at least.
    Violated(Vec<Violation>),
    /// There was nothing to judge by.
    NotJudged {
        /// Why not.
        reason: String,
    },
}

/// Says how a rule was broken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Violation {
    /// What was tried, where a check tries several things: the drift and its place.
    pub subject: Option<String>,
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
        Self::Violated(vec![Violation {
            subject: None,
            allowed: allowed.into(),
            observed: observed.into(),
            at,
        }])
    }

    /// Says what was tried when the rule was broken.
    #[must_use]
    pub fn about(self, subject: &str) -> Self {
        match self {
            Self::Violated(mut violations) => {
                for violation in &mut violations {
                    violation.subject.get_or_insert_with(|| subject.to_owned());
                }
                Self::Violated(violations)
            }
            other => other,
        }
    }

    /// Gives one verdict on several things that were tried: broken if any is, with all that were;
    /// else held if any was judged.
    pub fn all(parts: impl IntoIterator<Item = Self>) -> Self {
        let (mut broken, mut notes, mut unjudged) = (Vec::new(), Vec::new(), None);
        for part in parts {
            match part {
                Self::Violated(violations) => broken.extend(violations),
                Self::Held { note } => notes.push(note),
                Self::NotJudged { .. } => unjudged = Some(part),
            }
        }
        match unjudged {
            _ if !broken.is_empty() => Self::Violated(broken),
            Some(unjudged) if notes.is_empty() => unjudged,
            _ => {
                notes.retain(|note| !note.is_empty());
                Self::Held {
                    note: notes.join(", "),
                }
            }
        }
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
