//! Every body of every built-in dialect and version, and that it is one at every moment.

use std::sync::Arc;

use indexmap::IndexMap;
use proptest::prelude::*;

use super::every::{DIALECTS, SCENARIOS, TRUTHS, everything, fault, moment};
use crate::dialect::sample;
use crate::sim::{Phase, Simulation};

/// A heater, a place, the job's number and nothing at all.
const VALUES: [&str; 4] = ["extruder", "0", "7", "nobody"];

#[test]
fn every_body_of_every_dialect_and_version_in_every_phase() {
    for dialect in DIALECTS.iter() {
        let mut bodies: IndexMap<(String, String), Vec<String>> = IndexMap::new();
        for sample in sample::samples() {
            for said in everything(dialect, &sample.truth, &VALUES) {
                let body = String::from_utf8_lossy(&said.answer.body).into_owned();
                let shown = format!("{} {body}", said.answer.status.as_u16());
                let phases = bodies.entry((said.request, shown)).or_default();
                phases.push(sample.name.clone());
            }
        }
        bodies.sort_by(|one, _, other, _| one.0.cmp(&other.0));
        let mut text = String::new();
        for ((request, shown), phases) in bodies {
            let phases = match phases.len() {
                9 => "always".to_owned(),
                _ => phases.join("; "),
            };
            text.push_str(&format!("## {request} ({phases})\n{shown}\n\n"));
        }
        let name = format!("{}_{}", dialect.name(), dialect.version());
        insta::assert_snapshot!(name, text);
    }
}

#[test]
fn every_dialect_has_a_title_for_the_list() {
    for dialect in DIALECTS.iter() {
        assert!(dialect.title().is_some(), "{}", dialect.name());
    }
}

#[test]
fn the_truths_of_the_scenarios_have_every_phase_and_a_reading_that_is_not_there() {
    for phase in Phase::ALL {
        assert!(
            TRUTHS.iter().any(|(_, truth)| truth.phase == phase),
            "{phase}"
        );
    }
    let mut heaters = TRUTHS.iter().flat_map(|(_, truth)| truth.heaters.values());
    assert!(heaters.any(|heater| heater.actual_celsius.is_none()));
}

#[test]
fn the_samples_have_every_reason_that_a_scenario_gives() {
    let edges = sample::edges();
    for (name, truth) in TRUTHS.iter() {
        for reason in &truth.printer.reasons {
            let known = edges
                .iter()
                .any(|edge| edge.truth.printer.reasons.contains(reason));
            assert!(known, "{name}: {reason}");
        }
        for reason in truth.job.iter().flat_map(|job| &job.reasons) {
            let mut jobs = edges.iter().filter_map(|edge| edge.truth.job.as_ref());
            assert!(
                jobs.any(|job| job.reasons.contains(reason)),
                "{name}: {reason}"
            );
        }
    }
}

#[test]
fn every_built_in_body_is_sound_all_over_every_scenario() {
    for (name, truth) in TRUTHS.iter() {
        for dialect in DIALECTS.iter() {
            for said in everything(dialect, truth, &VALUES) {
                assert_eq!(fault(&said), None, "{name}, {}", dialect.name());
            }
        }
    }
}

proptest! {
    // A case simulates hours.
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn every_built_in_body_is_sound_at_any_moment_with_any_seed(
        scenario in 0..SCENARIOS.len(),
        seed in any::<u64>(),
        mut shares in prop::collection::vec(0.0..1.2_f64, 1..10),
    ) {
        let scenario = &SCENARIOS[scenario];
        let mut simulation = Simulation::new(Arc::clone(scenario), seed);
        let length_s = scenario.length.start().as_seconds();
        shares.sort_by(f64::total_cmp);
        for share in shares {
            let truth = simulation.truth_at(moment(share * length_s));
            for dialect in DIALECTS.iter() {
                for said in everything(dialect, &truth, &VALUES) {
                    let fault = fault(&said);
                    prop_assert!(fault.is_none(), "{} {:?}", dialect.name(), fault);
                }
            }
        }
    }
}
