//! A run's events, sorted by what oracles ask for.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::sim::Truth;

use super::{Timing, Verdict};
use crate::event::{Event, EventKind};
use crate::watcher::Sighting;

/// Is a run as an oracle reads it.
#[derive(Debug)]
pub struct Trace<'a> {
    /// Every event, in order.
    pub events: &'a [Event],
    /// Good answers (200), in order.
    pub answers: Vec<Served<'a>>,
    /// Claims, in order.
    pub sightings: Vec<(Duration, &'a Sighting)>,
    /// The last moment observed.
    pub end: Duration,
    /// The allowances.
    pub timing: Timing,
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
        for event in events {
            match &event.kind {
                EventKind::Answer { status: 200, truth } => answers.push(Served {
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
        for event in self.events {
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
        if self.sightings.is_empty() && self.answers.len() >= 3 {
            let allowed = "a claim once the printer has answered";
            let observed = format!("none after {} answers", self.answers.len());
            return Verdict::violated(self.end, allowed, observed);
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
