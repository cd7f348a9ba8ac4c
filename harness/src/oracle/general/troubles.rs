//! What was wrong with the connection and the bodies, and when.

use std::time::Duration;

use coldbed_mock::drift::Drift;
use coldbed_mock::fault::{Fault, RetryAfter};
use coldbed_mock::sim::Trouble;

use crate::event::{Event, EventKind};
use crate::oracle::Timing;

/// Is a stretch of a run in which something was wrong.
#[derive(Debug, Clone)]
pub(super) struct Span {
    /// What was wrong; `None` is a host that was away.
    pub(super) trouble: Option<Trouble>,
    /// When it began.
    pub(super) began: Duration,
    /// When it was over; `None` if it was not, to the end of the run.
    pub(super) ended: Option<Duration>,
}

/// Is the end of all troubles of a run, and what a watcher is allowed after it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Calm {
    /// When the last trouble was over.
    pub(crate) since: Duration,
    /// Within what time a watcher is right again.
    pub(crate) recovery_within: Duration,
}

impl Span {
    /// Tells whether it was so at a moment, give or take the slack between two clocks' readings.
    pub(super) fn covers(&self, at: Duration, slack: Duration) -> bool {
        self.began <= at + slack && self.ended.is_none_or(|ended| at <= ended + slack)
    }

    pub(super) fn fault(&self) -> Option<&Fault> {
        match &self.trouble {
            Some(Trouble::Fault(fault)) => Some(&fault.fault),
            _ => None,
        }
    }

    pub(super) fn drift(&self) -> Option<&Drift> {
        match &self.trouble {
            Some(Trouble::Drift(drift)) => Some(drift),
            _ => None,
        }
    }

    /// Says what was wrong.
    pub(super) fn words(&self) -> String {
        match &self.trouble {
            Some(Trouble::Fault(fault)) => format!("fault: {fault}"),
            Some(Trouble::Drift(drift)) => {
                format!("drift: {}", drift.explain().trim_end_matches('.'))
            }
            None => "the host is away".to_owned(),
        }
    }
}

/// Gives the stretches in the order in which they began.
pub(super) fn spans(events: &[Event]) -> Vec<Span> {
    let mut spans: Vec<Span> = Vec::new();
    for event in events {
        let (trouble, begins) = match &event.kind {
            EventKind::TroubleBegan { trouble } => (Some(trouble), true),
            EventKind::TroubleEnded { trouble } => (Some(trouble), false),
            EventKind::HostWent => (None, true),
            EventKind::HostCame => (None, false),
            _ => continue,
        };
        if begins {
            spans.push(Span {
                trouble: trouble.cloned(),
                began: event.at,
                ended: None,
            });
            continue;
        }
        let open = spans
            .iter_mut()
            .find(|span| span.ended.is_none() && span.trouble.as_ref() == trouble);
        if let Some(span) = open {
            span.ended = Some(event.at);
        }
    }
    spans
}

/// Gives the end of all troubles; `None` if there were none, or if something was still wrong at the
/// end.
pub(crate) fn calm(events: &[Event], timing: &Timing) -> Option<Calm> {
    let spans = spans(events);
    if is_key_revoked(events) {
        return None;
    }
    let mut begun: Option<(Duration, Duration)> = None;
    for span in &spans {
        let ended = span.ended?;
        begun = Some(match begun {
            // A watcher that waits longer after each failure may not have noticed the calm between.
            Some((began, until))
                if span.began <= until + timing.recovery_within(until.saturating_sub(began)) =>
            {
                (began, until.max(ended))
            }
            _ => (span.began, ended),
        });
    }
    let (began, since) = begun?;
    let asked_to_wait: Duration = spans.iter().filter_map(Span::fault).map(waits).sum();
    Some(Calm {
        since,
        recovery_within: timing.recovery_within(since - began) + asked_to_wait,
    })
}

/// Gives how long a fault asks a client to wait, or makes it wait.
fn waits(fault: &Fault) -> Duration {
    match fault {
        Fault::Status {
            retry_after: Some(after),
            ..
        } => match after {
            RetryAfter::Seconds(seconds) => Duration::from_secs(*seconds),
            RetryAfter::Date(span)
            | RetryAfter::Rfc850Date(span)
            | RetryAfter::AsctimeDate(span) => span.0,
        },
        Fault::Latency { of, jitter } => of.0 + jitter.0,
        _ => Duration::ZERO,
    }
}

fn is_key_revoked(events: &[Event]) -> bool {
    let last = events.iter().rev().find_map(|event| match &event.kind {
        EventKind::Answer { truth, .. } | EventKind::Pushed { truth, .. } => Some(truth),
        _ => None,
    });
    last.is_some_and(|truth| !truth.printer.key_is_good)
}

/// So many answers after the end of all troubles show whether a watcher has recovered.
const ANSWERS_AFTER: usize = 6;

/// Tells whether a run shows already that the watcher has recovered: it was answered often enough, and
/// what stands is live.
pub(crate) fn has_recovered(events: &[Event], calm: Calm) -> bool {
    let after = || {
        events
            .iter()
            .rev()
            .take_while(|event| event.at > calm.since)
    };
    let is_good = |event: &&Event| {
        matches!(
            event.kind,
            EventKind::Answer {
                status: 200 | 304,
                ..
            }
        )
    };
    let standing = events.iter().rev().find_map(|event| match &event.kind {
        EventKind::Sighting(sighting) => Some(sighting),
        _ => None,
    });
    standing.is_some_and(|sighting| !sighting.says_unknown())
        && after().filter(is_good).count() >= ANSWERS_AFTER
}
