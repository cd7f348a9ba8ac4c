//! Faults of which it depends on the exchange what is owed.

use std::time::Duration;

use super::window::Window;
use super::{Owed, verify_fault};
use crate::event::{Event, EventKind};
use crate::oracle::{Timing, Trace, Verdict};

/// Verifies what is owed while too short a `Content-Length` cuts the bodies: of a JSON text everyone
/// can see that it is cut, of other text nobody.
pub fn verify_short_length(trace: &Trace<'_>) -> Verdict {
    let is_json = |event: &Event| match &event.kind {
        EventKind::Answer {
            status: 200, body, ..
        } => serde_json::from_slice::<serde::de::IgnoredAny>(body).is_ok(),
        _ => true,
    };
    let owed = match trace.events.iter().all(is_json) {
        true => Owed::Unknown,
        false => Owed::RightOrUnknown,
    };
    verify_fault(trace, owed)
}

/// Verifies that a 304 nobody has asked for tells nothing. Who asked with a condition rightly takes it
/// for an answer (RFC 9110 section 15.4.5).
pub fn verify_unasked_not_modified(trace: &Trace<'_>) -> Verdict {
    let from = Window::of(trace).map_or(Duration::ZERO, |window| window.raised);
    let is_conditional = |event: &Event| match &event.kind {
        EventKind::Request { headers, .. } => headers
            .iter()
            .any(|(name, _)| name == "if-none-match" || name == "if-modified-since"),
        _ => false,
    };
    let mut during = trace.events.iter().filter(|event| event.at >= from);
    if during.any(is_conditional) {
        return Verdict::NotJudged {
            reason: "the watcher asks with a condition, so that it may believe a 304".to_owned(),
        };
    }
    verify_fault(trace, Owed::Unknown)
}

/// Verifies what is owed while nothing comes on a push stream.
pub fn verify_stream_outage(trace: &Trace<'_>) -> Verdict {
    let is_pushed = |event: &Event| matches!(event.kind, EventKind::Pushed { .. });
    if !trace.events.iter().any(is_pushed) {
        return Verdict::NotJudged {
            reason: "the watcher subscribes to no push stream".to_owned(),
        };
    }
    let timing = stream_timing(trace.timing);
    verify_fault(&Trace::new(trace.events, timing), Owed::Unknown)
}

/// Gives the allowances for a watcher that asks once and is told of changes: the rhythm of its
/// requests says nothing, that of its claims does.
pub fn stream_timing(timing: Timing) -> Timing {
    /// Hosts send something that keeps a stream alive every 15 s or so, and one may be late (WHATWG
    /// HTML, "Server-sent events", authoring notes: a comment every 15 seconds or so).
    const ALIVE: Duration = Duration::from_secs(10);
    Timing {
        interval: timing.interval.min(ALIVE),
        longest_interval: ALIVE,
        longest_idle_interval: ALIVE,
        longest_claim_gap: timing.longest_claim_gap.min(ALIVE),
        harness_delay: timing.harness_delay,
    }
}
