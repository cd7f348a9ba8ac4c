//! Where a clock is put.

use serde::Deserialize;

use crate::fault::Span;
use crate::sim::VirtualTime;

/// Says where a clock is put: `{ "to": "1h20m" }` since the start, or `{ "by": "90s" }` from now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(try_from = "Keys")]
pub enum Jump {
    /// To a moment, as the time since the scenario's start.
    To(Span),
    /// Forward by a span.
    By(Span),
}

/// The keys as they are written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Keys {
    to: Option<Span>,
    by: Option<Span>,
}

impl TryFrom<Keys> for Jump {
    type Error = &'static str;

    fn try_from(keys: Keys) -> Result<Self, Self::Error> {
        match (keys.to, keys.by) {
            (Some(to), None) => Ok(Self::To(to)),
            (None, Some(by)) => Ok(Self::By(by)),
            _ => Err("needs one of `to` and `by`, and not both"),
        }
    }
}

impl Jump {
    /// Gives the moment meant, from the one the clock shows.
    pub fn from(self, now: VirtualTime) -> VirtualTime {
        match self {
            Self::To(span) => VirtualTime::new(span.0),
            Self::By(span) => now + span.0,
        }
    }
}
