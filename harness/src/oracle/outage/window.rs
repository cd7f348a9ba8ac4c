//! When a fault began and when it was over.

use std::time::Duration;

use crate::event::{Event, EventKind};
use crate::oracle::Trace;

/// Is the time during which a fault was in force.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Window {
    /// When it came into force.
    pub(super) raised: Duration,
    /// When it was over; the end of the run if it never was.
    pub(super) cleared: Duration,
}

impl Window {
    /// Finds the first fault of a run: one that was raised, or an event at the printer that lasts.
    pub(super) fn of(trace: &Trace<'_>) -> Option<Self> {
        let at_of = |wanted: fn(&EventKind) -> bool| {
            let mut events = trace.events.iter();
            events
                .find(|event| wanted(&event.kind))
                .map(|event| event.at)
        };
        let raised = at_of(|kind| matches!(kind, EventKind::FaultRaised { .. }));
        if let Some(raised) = raised {
            let cleared = at_of(|kind| matches!(kind, EventKind::FaultCleared));
            return Some(Self {
                raised,
                cleared: cleared.unwrap_or(trace.end),
            });
        }
        let mut events = trace.events.iter();
        let (raised, lasts) = events.find_map(|event| Some((event.at, lasting(event)?)))?;
        let cleared = (raised + lasts.div_f64(rate(trace, raised))).min(trace.end);
        Some(Self { raised, cleared })
    }
}

/// Gives how long an event at the printer lasts, in virtual time, if it is one that does.
fn lasting(event: &Event) -> Option<Duration> {
    let EventKind::PrinterEvent { event } = &event.kind else {
        return None;
    };
    let keys: serde_json::Value = serde_json::from_str(event).ok()?;
    let span: coldbed_mock::fault::Span =
        serde_json::from_value(keys.get("lasts")?.clone()).ok()?;
    Some(span.0)
}

/// Gives how many virtual seconds passed in a real one at a moment.
fn rate(trace: &Trace<'_>, at: Duration) -> f64 {
    let clocks = trace.events.iter().take_while(|event| event.at <= at);
    let rates = clocks.filter_map(|event| match event.kind {
        EventKind::Clock { rate, .. } if rate > 0.0 => Some(rate),
        _ => None,
    });
    rates.last().unwrap_or(1.0)
}

/// Gives how long the host has asked its client to wait, at most: who does so is not late.
///
/// # Source
/// RFC 9110 section 10.2.3, `Retry-After`, in seconds.
pub(super) fn told_to_wait(trace: &Trace<'_>, window: Window) -> Duration {
    let within = |event: &&Event| event.at >= window.raised && event.at <= window.cleared;
    let told = trace.events.iter().filter(within).filter_map(|event| {
        let EventKind::Answer { headers, .. } = &event.kind else {
            return None;
        };
        let mut fields = headers.iter();
        let (_, value) = fields.find(|(name, _)| name == "retry-after")?;
        value.parse().ok().map(Duration::from_secs)
    });
    told.max().unwrap_or_default()
}
