//! A run's events, sorted by what oracles ask for.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::sim::Truth;

use super::harm::{Harm, harm};
use super::{Timing, Verdict};
use crate::check::Awaited;
use crate::event::{Event, EventKind};
use crate::watcher::Sighting;

/// Is a run, or one trial of it, as an oracle reads it.
#[derive(Debug)]
pub struct Trace<'a> {
    /// Every event, in order.
    pub events: &'a [Event],
    /// Good answers (200, and 304 to who asked with `If-None-Match`) that no fault withheld, in order.
    pub answers: Vec<Served<'a>>,
    /// Claims, in order.
    pub sightings: Vec<(Duration, &'a Sighting)>,
    /// The last moment observed.
    pub end: Duration,
    /// The allowances.
    pub timing: Timing,
}

/// Is a stretch of a run that is judged by itself.
#[derive(Debug)]
pub struct Trial<'a> {
    /// What was tried, in words.
    pub label: &'a str,
    /// When it began.
    pub from: Duration,
    /// What happened in it, its own beginning and end included.
    pub events: &'a [Event],
    /// The run from its beginning to the end of the trial.
    pub trace: Trace<'a>,
}

/// Is a truth that was served, and when.
#[derive(Debug, Clone, Copy)]
pub struct Served<'a> {
    /// When the answer went out.
    pub at: Duration,
    /// What it told.
    pub truth: &'a Arc<Truth>,
}

impl<'a> Trace<'a> {
    /// Sorts a run's events.
    pub fn new(events: &'a [Event], timing: Timing) -> Self {
        let mut answers = Vec::new();
        let mut sightings = Vec::new();
        let withheld = withheld(events);
        for event in events {
            match &event.kind {
                EventKind::Answer {
                    status: 200 | 304,
                    truth,
                    exchange,
                    ..
                } if !withheld.contains(exchange) => answers.push(Served {
                    at: event.at,
                    truth,
                }),
                EventKind::Pushed { truth, .. } => answers.push(Served {
                    at: event.at,
                    truth,
                }),
                EventKind::Sighting(sighting) => sightings.push((event.at, sighting)),
                _ => {}
            }
        }
        Self {
            events,
            answers,
            sightings,
            end: events.last().map_or(Duration::ZERO, |event| event.at),
            timing,
        }
    }

    /// Gives the trials one by one, each with its label and the run up to its end.
    ///
    /// A trial sees what was before it, too: what stands at its beginning was claimed then.
    pub fn trials(&self) -> Vec<Trial<'a>> {
        let mut trials = Vec::new();
        let mut open: Option<(&str, usize)> = None;
        for (index, event) in self.events.iter().enumerate() {
            match &event.kind {
                EventKind::TrialBegan { label } => open = Some((label, index)),
                EventKind::TrialEnded => {
                    let Some((label, began)) = open.take() else {
                        continue;
                    };
                    trials.push(Trial {
                        label,
                        from: self.events[began].at,
                        events: &self.events[began..=index],
                        trace: Self::new(&self.events[..=index], self.timing),
                    });
                }
                _ => {}
            }
        }
        trials
    }

    /// Gives the answers a claim standing at a moment may rest on: all of the allowed window, and
    /// in any case the last two, for a watcher that asks more rarely than it was measured to.
    pub fn candidates(&self, at: Duration) -> &[Served<'a>] {
        let until = self.answers.partition_point(|answer| answer.at <= at);
        let fresh_from = at.saturating_sub(self.timing.freshness());
        let from = self
            .answers
            .partition_point(|answer| answer.at < fresh_from);
        &self.answers[from.min(until.saturating_sub(2))..until]
    }

    /// Gives the claim standing at a moment: the last one made until then.
    pub fn standing(&self, at: Duration) -> Option<&'a Sighting> {
        let until = self.sightings.partition_point(|(made, _)| *made <= at);
        self.sightings[..until]
            .last()
            .map(|(_, sighting)| *sighting)
    }

    /// Gives the moments at which claims are held against answers: each time one is made, and each
    /// time the allowance after an answer has run out, so that silence is judged too.
    pub fn moments(&self) -> Vec<Duration> {
        let made = self.sightings.iter().map(|(at, _)| *at);
        let due = self
            .answers
            .iter()
            .map(|answer| answer.at + self.timing.freshness())
            .filter(|due| *due <= self.end);
        let mut moments: Vec<Duration> = made.chain(due).collect();
        moments.sort_unstable();
        moments
    }

    /// Holds if the watcher was still there and asking at the end.
    pub fn verify_alive(&self) -> Verdict {
        // Of an end after which it was started again, the trial was told in which it happened.
        let started = self
            .events
            .iter()
            .rposition(|event| matches!(event.kind, EventKind::Restarted));
        let going_on = self.verify_going_on(&self.events[started.unwrap_or(0)..]);
        if matches!(going_on, Verdict::Violated(_)) {
            return going_on;
        }
        if self.sightings.is_empty() && self.answers.len() >= 3 {
            let allowed = "a claim once the printer has answered";
            let observed = format!("none after {} answers", self.answers.len());
            return Verdict::violated(self.end, allowed, observed);
        }
        Verdict::Held {
            note: String::new(),
        }
    }

    /// Holds if within these events the watcher neither ended nor stopped asking.
    pub fn verify_going_on(&self, events: &[Event]) -> Verdict {
        for event in events {
            match &event.kind {
                EventKind::Exited { status } => {
                    return Verdict::violated(
                        event.at,
                        "the watcher goes on until it is ended",
                        format!("it ended by itself ({status}){}", self.last_words()),
                    );
                }
                EventKind::StoppedAsking { waited } => {
                    return Verdict::violated(
                        event.at,
                        format!(
                            "a request about every {:.1} s",
                            self.timing.interval.as_secs_f64()
                        ),
                        format!("none for {:.1} s", waited.as_secs_f64()),
                    );
                }
                _ => {}
            }
        }
        Verdict::Held {
            note: String::new(),
        }
    }

    /// Quotes the last line of the error stream, which usually says why a watcher ended.
    fn last_words(&self) -> String {
        let last = self
            .events
            .iter()
            .rev()
            .find_map(|event| match &event.kind {
                EventKind::Line {
                    on_stderr: true,
                    text,
                } if !text.is_empty() => Some(text),
                _ => None,
            });
        last.map_or_else(String::new, |line| format!(", its last words: {line}"))
    }
}

/// Gives the exchanges whose answer did not come whole, or was another than the one that was made.
pub(super) fn withheld(events: &[Event]) -> BTreeSet<u64> {
    events
        .iter()
        .filter_map(|event| match &event.kind {
            EventKind::FaultHappened {
                exchange: Some(exchange),
                fault,
                ..
            } if harm(&fault.fault) == Harm::Withheld => Some(*exchange),
            _ => None,
        })
        .collect()
}

/// Tells whether something that a step waits for has happened since a moment.
pub(crate) fn has_happened(events: &[Event], since: Duration, what: Awaited) -> bool {
    let new = || events.iter().rev().take_while(|event| event.at > since);
    let claim = |unknown: bool| {
        new().any(|event| match &event.kind {
            EventKind::Sighting(sighting) => sighting.says_unknown() == unknown,
            _ => false,
        })
    };
    match what {
        Awaited::Requests(count) => new().filter(|event| event.is_request()).count() >= count,
        Awaited::Answers(count) => {
            let withheld = withheld(events);
            let good = new().filter(|event| match &event.kind {
                EventKind::Answer {
                    status: 200 | 304,
                    exchange,
                    ..
                } => !withheld.contains(exchange),
                EventKind::Pushed { .. } => true,
                _ => false,
            });
            good.count() >= count
        }
        Awaited::LiveClaim => claim(false),
        Awaited::UnknownClaim => claim(true),
        Awaited::Knowing => events
            .iter()
            .rev()
            .find_map(|event| match &event.kind {
                EventKind::Sighting(sighting) => Some(!sighting.says_unknown()),
                _ => None,
            })
            .unwrap_or(false),
    }
}
