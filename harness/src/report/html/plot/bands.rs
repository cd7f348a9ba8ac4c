//! Spans in which something was wrong on purpose.

use std::time::Duration;

use serde::Serialize;

use super::px;
use super::window::Window;
use crate::event::{Event, EventKind};

/// Is a shaded span.
#[derive(Debug, Serialize)]
pub(super) struct Band {
    x: String,
    width: String,
    class: &'static str,
    words: String,
}

/// Is a span of a run with what it is in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Span {
    pub(super) from: Duration,
    pub(super) until: Duration,
    pub(super) class: &'static str,
    pub(super) words: String,
}

/// Gives the shaded spans of a window.
pub(super) fn bands(events: &[Event], window: Window) -> Vec<Band> {
    let shaded = spans(events, window).into_iter();
    let shaded = shaded.filter(|span| span.class != "trial");
    shaded
        .map(|span| {
            let (from, until) = (window.x(span.from), window.x(span.until));
            Band {
                x: px(from),
                width: px((until - from).max(1.5)),
                class: span.class,
                words: span.words,
            }
        })
        .collect()
}

/// Finds what was wrong on purpose in a window: faults, drifts, sleep, and the trials.
pub(super) fn spans(events: &[Event], window: Window) -> Vec<Span> {
    let mut open: Vec<Span> = Vec::new();
    let mut spans = Vec::new();
    for event in events {
        let begins = match &event.kind {
            EventKind::FaultRaised { fault, .. } => Some(("fault", format!("fault: {fault}"))),
            EventKind::DriftRaised { drift } => Some(("drift", format!("drift: {drift}"))),
            EventKind::Suspended => Some(("asleep", "the watcher is stopped".to_owned())),
            EventKind::TrialBegan { label } => Some(("trial", format!("trial: {label}"))),
            _ => None,
        };
        if let Some((class, words)) = begins {
            open.push(Span {
                from: event.at,
                until: window.until(),
                class,
                words,
            });
        }
        let ends: &[&str] = match &event.kind {
            EventKind::FaultCleared => &["fault"],
            EventKind::DriftCleared => &["drift"],
            EventKind::Resumed => &["asleep"],
            // What a trial has left in force ends with it.
            EventKind::TrialEnded => &["trial", "drift", "fault"],
            _ => &[],
        };
        let (ended, rest): (Vec<Span>, Vec<Span>) = open
            .into_iter()
            .partition(|span| ends.contains(&span.class));
        open = rest;
        spans.extend(ended.into_iter().map(|span| Span {
            until: event.at,
            ..span
        }));
    }
    spans.extend(open);
    spans.retain(|span| span.from <= window.until() && span.until >= window.from());
    spans.sort_by_key(|span| span.from);
    together(spans)
}

/// Makes one span of those of a kind that overlap: they would hide each other's words.
fn together(spans: Vec<Span>) -> Vec<Span> {
    let mut merged: Vec<Span> = Vec::new();
    for span in spans {
        let last = merged
            .iter_mut()
            .rev()
            .find(|last| last.class == span.class);
        match last {
            Some(last) if span.from < last.until => {
                last.until = last.until.max(span.until);
                last.words = format!("{}; {}", last.words, span.words);
            }
            _ => merged.push(span),
        }
    }
    merged
}

#[cfg(test)]
mod tests {
    use super::super::window::tests::window;
    use super::*;

    fn events(kinds: Vec<(u64, EventKind)>) -> Vec<Event> {
        let event = |(at, kind)| Event {
            at: Duration::from_secs(at),
            kind,
        };
        kinds.into_iter().map(event).collect()
    }

    fn told(kinds: Vec<(u64, EventKind)>) -> Vec<(u64, u64, String)> {
        let spans = spans(&events(kinds), window(20)).into_iter();
        let span = |span: Span| (span.from.as_secs(), span.until.as_secs(), span.words);
        spans.map(span).collect()
    }

    fn drift(words: &str) -> EventKind {
        let drift = words.to_owned();
        EventKind::DriftRaised { drift }
    }

    #[test]
    fn two_drifts_at_a_time_are_one_span_with_the_words_of_both() {
        let kinds = vec![
            (3, drift("a")),
            (3, drift("b")),
            (6, EventKind::DriftCleared),
            (8, drift("c")),
        ];
        assert_eq!(
            told(kinds),
            [
                (3, 6, "drift: a; drift: b".to_owned()),
                (8, 20, "drift: c".to_owned())
            ]
        );
    }

    #[test]
    fn what_a_trial_left_in_force_ends_with_it_and_sleep_does_not() {
        let label = "null".to_owned();
        let kinds = vec![
            (2, EventKind::TrialBegan { label }),
            (3, drift("a")),
            (4, EventKind::Suspended),
            (5, EventKind::TrialEnded),
            (7, EventKind::Resumed),
        ];
        let until: Vec<u64> = told(kinds).iter().map(|(_, until, _)| *until).collect();
        assert_eq!(until, [5, 5, 7]);
    }
}
