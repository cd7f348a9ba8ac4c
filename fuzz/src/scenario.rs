//! The text of a scenario.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::scenario::{BUILTIN, PRINTERS, Scenario};
use coldbed_mock::sim::{Simulation, VirtualTime};

/// Moments at which the printer is looked at: the start, one control period later, and a moment
/// after most first commands.
const MOMENTS: [Duration; 3] = [
    Duration::ZERO,
    Duration::from_millis(100),
    Duration::from_secs(20),
];

/// Reads a scenario without any other files. What is read can be simulated for a moment, tells
/// numbers and no others, and tells the same to everybody; what is not says so in one line.
///
/// # Panics
/// One of these does not hold.
pub fn target(bytes: &[u8]) {
    let Some(text) = super::text(bytes) else {
        return;
    };
    let scenario = match Scenario::parse("fuzzed.toml", text) {
        Ok(scenario) => Arc::new(scenario),
        Err(error) => return assert!(!error.to_string().is_empty()),
    };
    let mut one = Simulation::new(Arc::clone(&scenario), 1);
    let mut other = Simulation::new(scenario, 1);
    for moment in MOMENTS {
        let at = VirtualTime::new(moment);
        let told = serde_json::to_string(&one.truth_at(at)).expect("a truth is JSON");
        let again = serde_json::to_string(&other.truth_at(at)).expect("a truth is JSON");
        assert_eq!(told, again, "two runs of one scenario differ at {moment:?}");
    }
    for (name, heater) in &one.truth_at(VirtualTime::new(MOMENTS[2])).heaters {
        assert!(heater.true_celsius.is_finite(), "{name}: {heater:?}");
    }
}

/// Gives the built-in scenarios and printers, and a file with every key.
pub fn seeds() -> Vec<Vec<u8>> {
    const EVERY_KEY: &str = include_str!("../../mock/src/scenario/tests/every-key.toml");
    let texts = BUILTIN.iter().chain(PRINTERS).map(|(_, text)| *text);
    texts
        .chain([EVERY_KEY])
        .map(|text| text.as_bytes().to_vec())
        .collect()
}
