//! The phase, read from all places that show it.

use std::collections::BTreeMap;

use serde_json::Value;

use super::super::sample;
use super::super::whereabouts::Quantity;
use super::{Told, leaves};
use crate::sim::{Phase, Truth};

/// Reads the phase.
#[derive(Debug)]
pub(super) struct PhaseReader {
    /// The places that show it, in order.
    places: Vec<String>,
    /// What stands there in each phase, with a job and without one.
    shown: Vec<(Phase, BTreeMap<String, Value>)>,
}

impl PhaseReader {
    /// Finds the places at which bodies differ by phase.
    pub(super) fn of(
        shown: &dyn Fn(&Truth) -> Option<Value>,
        printing: &Truth,
        idle: &Truth,
    ) -> Option<Self> {
        let mut seen: Vec<(Phase, BTreeMap<String, Value>)> = Vec::new();
        let mut places = Vec::new();
        for base in [printing, idle] {
            let mut group = Vec::new();
            for truth in Quantity::Phase.tried(base) {
                if let Some(body) = shown(&truth) {
                    group.push((truth.phase, leaves(&body, true)));
                }
            }
            let all: Vec<&String> = group.iter().flat_map(|(_, leaves)| leaves.keys()).collect();
            for place in all {
                let values: Vec<_> = group.iter().map(|(_, leaves)| leaves.get(place)).collect();
                if values.iter().any(|value| *value != values[0]) && !places.contains(place) {
                    places.push(place.clone());
                }
            }
            seen.extend(group);
        }
        // All states of a job that a phase can have.
        for sample in sample::samples() {
            if let Some(body) = shown(&sample.truth) {
                seen.push((sample.truth.phase, leaves(&body, true)));
            }
        }
        (!places.is_empty()).then_some(Self {
            places,
            shown: seen,
        })
    }

    /// Gives the phases in which a body shows what it does. A list of reasons that no phase shows,
    /// as when there are more of them, says nothing.
    pub(super) fn read(&self, body: &Value) -> Told<Vec<Phase>> {
        let leaves = leaves(body, true);
        let words: Vec<&String> = self
            .places
            .iter()
            .filter(|place| !self.is_list(place))
            .collect();
        let lists: Vec<&String> = self
            .places
            .iter()
            .filter(|place| self.is_list(place))
            .collect();
        let by_words = self.fitting(&words, body, &leaves);
        if by_words.is_empty() {
            return self.of_no_phase(&words, &leaves);
        }
        let mut fitting = by_words;
        for list in lists {
            let narrower: Vec<_> = fitting
                .iter()
                .filter(|(_, shown)| value(shown, list) == value(&leaves, list))
                .copied()
                .collect();
            if !narrower.is_empty() {
                fitting = narrower;
            }
        }
        let mut phases: Vec<Phase> = fitting.into_iter().map(|(phase, _)| phase).collect();
        phases.sort_unstable();
        phases.dedup();
        Told::Value {
            value: phases,
            slack: 0.0,
        }
    }

    fn is_list(&self, place: &str) -> bool {
        self.shown
            .iter()
            .any(|(_, shown)| shown.get(place).is_some_and(Value::is_array))
    }

    fn fitting<'a>(
        &'a self,
        places: &[&String],
        body: &Value,
        leaves: &BTreeMap<String, Value>,
    ) -> Vec<(Phase, &'a BTreeMap<String, Value>)> {
        let fits = |(_, shown): &&(Phase, BTreeMap<String, Value>)| {
            // A phase with lists alone is told by nothing but them.
            places.iter().all(|place| {
                value(shown, place) == value(leaves, place)
                    || !is_told(body, place) && value(shown, place).is_none()
            })
        };
        self.shown
            .iter()
            .filter(fits)
            .map(|(phase, shown)| (*phase, shown))
            .collect()
    }

    fn of_no_phase(&self, words: &[&String], leaves: &BTreeMap<String, Value>) -> Told<Vec<Phase>> {
        let seen: Vec<String> = words
            .iter()
            .filter_map(|place| value(leaves, place).map(|value| format!("{place} {value}")))
            .collect();
        if seen.is_empty() {
            return Told::Unknown;
        }
        Told::Unreadable(seen.join(", "))
    }
}

/// Gives what stands at a place; `null` is nothing.
fn value<'a>(leaves: &'a BTreeMap<String, Value>, place: &str) -> Option<&'a Value> {
    leaves.get(place).filter(|value| !value.is_null())
}

/// Tells whether the object that a place is in is there.
fn is_told(body: &Value, place: &str) -> bool {
    let (parent, _) = place.rsplit_once('/').unwrap_or_default();
    body.pointer(parent).is_some_and(Value::is_object)
}
