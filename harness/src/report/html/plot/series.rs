//! The numbers that a violation is about, as they were served and as they were claimed.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::sim::Truth;

use crate::check::Field;
use crate::event::{Event, EventKind};
use crate::oracle::{Harm, harm};
use crate::watcher::{Claim, Sighting};

/// More panels would make each of them useless (own choice).
const MOST: usize = 3;

/// Is a number of the truth.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Shown {
    Actual(String),
    Target(String),
    Progress,
    Elapsed,
    Remaining,
}

/// Is a value that an answer carried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Served {
    pub(super) at: Duration,
    pub(super) value: Option<f64>,
    /// Whether the watcher got to know it: a good answer that no fault withheld.
    pub(super) is_told: bool,
}

impl Shown {
    /// Chooses what a violation's words and its check's field are about; of a rule about no number,
    /// the first heater and the progress, which show what the printer did.
    pub(super) fn for_words(words: &str, needs: Field, events: &[Event]) -> Vec<Self> {
        let heaters = heaters(events);
        let is_named = |name: &&String| words.contains(name.as_str());
        let named: Vec<String> = heaters.iter().filter(is_named).cloned().collect();
        let heaters = if named.is_empty() { heaters } else { named };
        let says = |field: Field| needs == field || words.contains(field.word());
        let mut shown = Vec::new();
        if says(Field::Actual) {
            shown.extend(heaters.iter().cloned().map(Self::Actual));
        }
        let is_about_on = heaters
            .iter()
            .any(|heater| words.contains(&format!("{heater} on ")));
        if says(Field::Target) || needs == Field::On || is_about_on {
            shown.extend(heaters.iter().cloned().map(Self::Target));
        }
        let numbers = [
            (Field::Progress, Self::Progress),
            (Field::Elapsed, Self::Elapsed),
            (Field::Remaining, Self::Remaining),
        ];
        let named = numbers.into_iter().filter(|(field, _)| says(*field));
        shown.extend(named.map(|(_, number)| number));
        if shown.is_empty() && needs != Field::Phase {
            shown.extend(heaters.into_iter().next().map(Self::Actual));
            shown.push(Self::Progress);
        }
        shown.truncate(MOST);
        shown
    }

    pub(super) fn label(&self) -> [String; 2] {
        match self {
            Self::Actual(heater) => [heater.clone(), "actual, °C".to_owned()],
            Self::Target(heater) => [heater.clone(), "target, °C".to_owned()],
            Self::Progress => ["progress".to_owned(), "%".to_owned()],
            Self::Elapsed => ["elapsed".to_owned(), "s".to_owned()],
            Self::Remaining => ["remaining".to_owned(), "s".to_owned()],
        }
    }

    fn of_truth(&self, truth: &Truth) -> Option<f64> {
        let job = truth.job.as_ref();
        match self {
            Self::Actual(name) => truth.heaters.get(name)?.actual_celsius,
            Self::Target(name) => Some(truth.heaters.get(name)?.target_celsius),
            Self::Progress => Some(job?.progress_percent),
            Self::Elapsed => Some(job?.elapsed_seconds),
            Self::Remaining => job?.remaining_seconds,
        }
    }

    fn of_claim(&self, sighting: &Sighting) -> Option<f64> {
        let claim = match self {
            Self::Actual(name) => &sighting.heaters.get(name)?.actual_celsius,
            Self::Target(name) => &sighting.heaters.get(name)?.target_celsius,
            Self::Progress => &sighting.progress_percent,
            Self::Elapsed => &sighting.elapsed_seconds,
            Self::Remaining => &sighting.remaining_seconds,
        };
        match claim {
            Claim::Value(value) if value.is_finite() => Some(*value),
            _ => None,
        }
    }

    /// Gives the values that answers were made from, in order.
    pub(super) fn served(&self, events: &[Event]) -> Vec<Served> {
        let served = |(at, truth, is_told): (Duration, &Arc<Truth>, bool)| Served {
            at,
            value: self.of_truth(truth),
            is_told,
        };
        answers(events).into_iter().map(served).collect()
    }

    /// Gives the values claimed, in order; `None` from where nothing is claimed.
    pub(super) fn claimed(&self, events: &[Event]) -> Vec<(Duration, Option<f64>)> {
        let claims = events.iter().filter_map(|event| match &event.kind {
            EventKind::Sighting(sighting) => Some((event.at, self.of_claim(sighting))),
            EventKind::Exited { .. } => Some((event.at, None)),
            _ => None,
        });
        claims.collect()
    }
}

fn heaters(events: &[Event]) -> Vec<String> {
    let truth = events.iter().find_map(|event| match &event.kind {
        EventKind::Answer { truth, .. } | EventKind::Pushed { truth, .. } => Some(truth),
        _ => None,
    });
    truth.map_or_else(Vec::new, |truth| truth.heaters.keys().cloned().collect())
}

/// Gives the truths that answers were made from, in order, and whether the watcher got to know each:
/// from a good answer that no fault withheld.
pub(super) fn answers(events: &[Event]) -> Vec<(Duration, &Arc<Truth>, bool)> {
    let withheld = withheld(events);
    let answers = events.iter().filter_map(|event| match &event.kind {
        EventKind::Answer {
            truth,
            status,
            exchange,
            ..
        } => {
            let is_told = matches!(status, 200 | 304) && !withheld.contains(exchange);
            Some((event.at, truth, is_told))
        }
        EventKind::Pushed { truth, .. } => Some((event.at, truth, true)),
        _ => None,
    });
    answers.collect()
}

fn withheld(events: &[Event]) -> BTreeSet<u64> {
    let withheld = events.iter().filter_map(|event| match &event.kind {
        EventKind::FaultHappened {
            exchange: Some(exchange),
            fault,
            ..
        } if harm(&fault.fault) == Harm::Withheld => Some(*exchange),
        _ => None,
    });
    withheld.collect()
}
