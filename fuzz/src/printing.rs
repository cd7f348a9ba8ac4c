//! A truth to ask for.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::{Simulation, Truth, VirtualTime};

/// Gives what is true in the built-in scenario `printing` after so many seconds: an hour or more is
/// in the middle of a print, 0 before there is a job.
pub(crate) fn truth_at_s(seconds: u64) -> Truth {
    let scenario = Scenario::builtin("printing").expect("it is built in");
    let scenario = scenario.expect("a built-in text parses");
    let mut simulation = Simulation::new(Arc::new(scenario), 1);
    simulation.truth_at(VirtualTime::new(Duration::from_secs(seconds)))
}
