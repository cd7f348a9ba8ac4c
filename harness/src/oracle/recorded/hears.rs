//! A run on a session, sorted by what its oracles ask for.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::dialect::Quantity;

use super::super::Trace;
use crate::event::EventKind;
use crate::recorded::{Heard, Said};
use crate::watcher::Sighting;

/// Is what the watcher was given of the session, beside what it claimed.
#[derive(Debug)]
pub(crate) struct Hears<'a> {
    /// Answers, and when each had gone out.
    pub(crate) heard: Vec<(Duration, &'a Arc<Heard>)>,
    /// Claims, in order.
    pub(crate) sightings: &'a [(Duration, &'a Sighting)],
    trace: &'a Trace<'a>,
}

impl<'a> Hears<'a> {
    pub(crate) fn of(trace: &'a Trace<'a>) -> Self {
        let heard = trace.events.iter().filter_map(|event| match &event.kind {
            EventKind::Replayed { heard, .. } => Some((event.at, heard)),
            _ => None,
        });
        Self {
            heard: heard.collect(),
            sightings: &trace.sightings,
            trace,
        }
    }

    /// Gives the answers that a watcher may show.
    pub(crate) fn usable(&self) -> impl Iterator<Item = &(Duration, &'a Arc<Heard>)> {
        self.heard.iter().filter(|(_, heard)| heard.is_usable())
    }

    /// Says what made answers unusable since the last usable one, if any were.
    pub(super) fn unusable_since(&self, last: Duration, until: Duration) -> Option<String> {
        let mut between = self
            .heard
            .iter()
            .filter(|(at, _)| *at > last && *at <= until);
        between.find_map(|(_, heard)| match &heard.said {
            Said::Unusable(why) => Some(format!("exchange {}: {why}", heard.recorded)),
            _ => None,
        })
    }

    /// Tells whether all answers of a time were usable.
    pub(super) fn is_calm(&self, from: Duration, until: Duration) -> bool {
        self.unusable_since(from, until).is_none()
    }

    /// Gives the names of the heaters that the answers tell of.
    pub(super) fn heaters(&self) -> BTreeSet<String> {
        let names = |heard: &Arc<Heard>| {
            let reading = match &heard.said {
                Said::Told(reading) => Some(reading),
                _ => None,
            };
            let of = reading.into_iter().chain([&heard.expected]);
            let each = of.flat_map(|reading| {
                let numbers = reading.numbers.iter().map(|(quantity, _)| quantity);
                numbers.chain(reading.values.iter().map(|(quantity, _)| quantity))
            });
            let names = each.filter_map(|quantity| match quantity {
                Quantity::Actual(name) | Quantity::Target(name) | Quantity::On(name) => {
                    Some(name.clone())
                }
                _ => None,
            });
            names.collect::<Vec<_>>()
        };
        self.heard
            .iter()
            .flat_map(|(_, heard)| names(heard))
            .collect()
    }

    /// Gives the answers a claim standing at a moment may rest on: those of the allowed window, and
    /// in any case the last two.
    pub(super) fn recent<'t, T>(
        &self,
        answers: &'t [T],
        at_of: impl Fn(&T) -> Duration,
        at: Duration,
    ) -> &'t [T] {
        let until = answers.partition_point(|answer| at_of(answer) <= at);
        let fresh_from = at.saturating_sub(self.trace.timing.freshness());
        let from = answers.partition_point(|answer| at_of(answer) < fresh_from);
        &answers[from.min(until.saturating_sub(2))..until]
    }

    /// Gives the claim standing at a moment.
    pub(super) fn standing(&self, at: Duration) -> Option<&'a Sighting> {
        self.trace.standing(at)
    }

    /// Gives the moments at which claims are held against answers: each time one is made, and each
    /// time the allowance after an answer has run out.
    pub(super) fn moments(&self) -> Vec<Duration> {
        let made = self.sightings.iter().map(|(at, _)| *at);
        let due = self
            .heard
            .iter()
            .map(|(at, _)| *at + self.trace.timing.freshness())
            .filter(|due| *due <= self.trace.end);
        let mut moments: Vec<Duration> = made.chain(due).collect();
        moments.sort_unstable();
        moments
    }
}
