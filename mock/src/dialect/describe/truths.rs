//! The truths that bodies are rendered with to see what shape they have.

use std::sync::{Arc, LazyLock};
use std::time::Duration;

use crate::dialect::sample;
use crate::scenario::Scenario;
use crate::sim::{Simulation, Truth, VirtualTime};

/// Says where a truth is from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// A sample.
    Sample,
    /// The same sample, its heaters called otherwise: a key that changes with them is a name.
    Renamed,
    /// A moment of a built-in scenario.
    Scenario,
}

/// The scenarios that are looked into, and when.
const MOMENTS: [(&str, [u64; 5]); 2] = [
    ("printing", [0, 60, 300, 1800, 5400]),
    ("error", [0, 60, 180, 600, 1800]),
];

static TRUTHS: LazyLock<Vec<(Side, Truth)>> = LazyLock::new(|| {
    let mut truths = Vec::new();
    for sample in sample::samples() {
        let mut blind = sample.truth.clone();
        for heater in blind.heaters.values_mut() {
            heater.actual_celsius = None;
        }
        for truth in [sample.truth, blind] {
            truths.push((Side::Renamed, renamed(&truth)));
            truths.push((Side::Sample, truth));
        }
    }
    for (name, moments) in MOMENTS {
        let Some(Ok(scenario)) = Scenario::builtin(name) else {
            continue;
        };
        let mut simulation = Simulation::new(Arc::new(scenario), 1);
        for seconds in moments {
            let at = VirtualTime::new(Duration::from_secs(seconds));
            truths.push((Side::Scenario, simulation.truth_at(at)));
        }
    }
    truths
});

fn renamed(truth: &Truth) -> Truth {
    let mut truth = truth.clone();
    let heaters = truth.heaters.into_values().enumerate();
    truth.heaters = heaters
        .map(|(place, heater)| (format!("heater-no-{place}"), heater))
        .collect();
    truth
}

/// Gives all of them. Some have sensors that give no reading, which no sample has.
pub(super) fn truths() -> &'static [(Side, Truth)] {
    &TRUTHS
}
