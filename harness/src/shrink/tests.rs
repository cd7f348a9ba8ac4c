//! What is generated is sound, what fails gets small, and what is written is what was run.

use std::sync::Arc;

use coldbed_mock::dialect::Dialect;
use coldbed_mock::drift::{Drift, ReplaceByNull};
use coldbed_mock::fault::{Fault, ScopedFault, Span};
use coldbed_mock::scenario::{Action, Scenario, When};
use coldbed_mock::sim::Trouble;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use serde_json::Value;

use super::*;

const TARGET: &str = "/heaters/extruder/target-celsius";

fn body() -> Value {
    body_of(&Dialect::builtin("plain").unwrap()).unwrap()
}

fn null_target() -> Trouble {
    Trouble::Drift(Arc::new(Drift::of(TARGET, ReplaceByNull)))
}

fn plan(seed: u64, number: u32) -> TroublePlan {
    plan_number(&plans(Some(&body())), seed, number).current()
}

#[test]
fn the_same_seed_gives_the_same_plans_and_another_gives_others() {
    let some = |seed| {
        (1..=20)
            .map(|number| plan(seed, number))
            .collect::<Vec<_>>()
    };
    assert_eq!(some(7), some(7));
    assert_ne!(some(7), some(8));
    assert_ne!(plan(7, 1), plan(7, 2));
}

#[test]
fn drifts_are_made_for_the_body_that_has_most_in_it() {
    let body = body();
    assert!(body.pointer(TARGET).is_some(), "{body}");
    assert!(body.pointer("/job/progress-percent").is_some(), "{body}");
}

/// Gives the troubles that a scenario file has on its timeline, in beats.
fn read_back(text: &str) -> Vec<PlannedTrouble> {
    let beats = |tick: coldbed_mock::sim::Tick| {
        u32::try_from(tick.start().since_start().as_secs() / BEAT.as_secs()).unwrap()
    };
    let scenario = Scenario::parse("plan.toml", text).unwrap_or_else(|error| panic!("{error}"));
    let events = scenario.events.iter();
    events
        .map(|event| {
            let When::At(at) = event.when else {
                panic!("{event:?}");
            };
            let (trouble, lasts) = match &event.action {
                Action::FaultRaised { fault, lasts, .. } => {
                    (Trouble::Fault(Arc::clone(fault)), lasts)
                }
                Action::DriftRaised { drift, lasts, .. } => {
                    (Trouble::Drift(Arc::clone(drift)), lasts)
                }
                other => panic!("{other:?}"),
            };
            PlannedTrouble {
                begins: beats(at),
                lasts: beats(lasts.unwrap()),
                trouble,
            }
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn a_plan_is_read_from_its_file_as_it_was_written(plan in plans(Some(&body()))) {
        let text = plan.text("a comment\nover two lines").unwrap();
        let troubles: Vec<PlannedTrouble> = plan.in_order().into_iter().cloned().collect();
        prop_assert_eq!(read_back(&text), troubles);
        prop_assert!(plan.ends() < plan.length());
    }

    #[test]
    fn only_drifts_that_do_something_and_faults_that_can_be_are_made(plan in plans(Some(&body()))) {
        let body = body();
        prop_assert!((1..=4).contains(&plan.troubles.len()));
        for planned in &plan.troubles {
            prop_assert!(planned.lasts >= 1);
            match &planned.trouble {
                Trouble::Drift(drift) => prop_assert!(drift.fits(&body).is_ok(), "{drift:?}"),
                Trouble::Fault(fault) => {
                    prop_assert!(fault.check().is_ok(), "{fault:?}");
                    prop_assert!(!fault.fault.needs_tls(), "{fault:?}");
                }
            }
        }
    }

    #[test]
    fn every_fault_is_written_as_a_scenario_takes_it(fault in faults()) {
        let planned = PlannedTrouble {
            begins: 3,
            lasts: 2,
            trouble: Trouble::Fault(Arc::new(fault)),
        };
        let plan = TroublePlan { troubles: vec![planned.clone()] };
        prop_assert_eq!(read_back(&plan.text("").unwrap()), vec![planned]);
    }
}

#[test]
fn many_kinds_of_faults_are_tried() {
    let mut runner = TestRunner::deterministic();
    let strategy = faults();
    let mut names: Vec<String> = (0..600)
        .map(|_| {
            strategy
                .new_tree(&mut runner)
                .unwrap()
                .current()
                .fault
                .name()
        })
        .collect();
    names.sort();
    names.dedup();
    // All but those of TLS (2) and of push streams (6).
    let left_out: Vec<String> = Fault::names()
        .into_iter()
        .filter(|name| !names.contains(name))
        .collect();
    assert_eq!(
        left_out,
        [
            "tls-certificate",
            "tls-without-notify",
            "silent-stream",
            "stream-closed",
            "missed-messages",
            "repeated-messages",
            "repeated-ids",
            "no-pong"
        ]
    );
}

/// Gives a generated plan of that many troubles, one of them at least a null at the extruder's target.
fn with_null_target(
    strategy: &BoxedStrategy<TroublePlan>,
    least: usize,
) -> Box<dyn ValueTree<Value = TroublePlan>> {
    let tree = (1..20_000)
        .map(|number| plan_number(strategy, 3, number))
        .find(|tree| {
            let plan = tree.current();
            plan.troubles.len() >= least && has_null_target(&plan)
        });
    tree.expect("such a plan comes up")
}

fn has_null_target(plan: &TroublePlan) -> bool {
    plan.troubles
        .iter()
        .any(|planned| planned.trouble == null_target())
}

#[tokio::test]
async fn a_plan_that_fails_for_one_trouble_ends_as_that_one_alone() {
    let strategy = plans(Some(&body()));
    let mut tree = with_null_target(&strategy, 3);
    let fails = async |plan: TroublePlan| has_null_target(&plan).then_some("it failed");
    let smallest = smallest(tree.as_mut(), "at first", 1000, fails, |_, _| {}).await;
    let alone = PlannedTrouble {
        begins: 3,
        lasts: 10,
        trouble: null_target(),
    };
    assert_eq!(smallest.value.troubles, [alone]);
    assert_eq!(smallest.witness, "it failed");
    assert!(smallest.is_final);
}

#[tokio::test]
async fn what_needs_two_troubles_keeps_two_and_a_length_that_matters_stays() {
    let strategy = plans(None);
    let is_short = |plan: &TroublePlan| {
        let short = plan.troubles.iter().filter(|planned| planned.lasts <= 4);
        short.count() >= 2
    };
    let mut tree = (1..5000)
        .map(|number| plan_number(&strategy, 3, number))
        .find(|tree| tree.current().troubles.len() == 4 && is_short(&tree.current()))
        .unwrap();
    let fails = async |plan: TroublePlan| is_short(&plan).then_some(());
    let smallest = smallest(tree.as_mut(), (), 1000, fails, |_, _| {}).await;
    let lengths: Vec<u32> = smallest.value.troubles.iter().map(|it| it.lasts).collect();
    assert_eq!(lengths, [4, 4]);
}

#[tokio::test]
async fn no_more_is_tried_than_allowed_and_what_is_left_still_fails() {
    let strategy = plans(Some(&body()));
    let mut tree = with_null_target(&strategy, 4);
    let mut told = Vec::new();
    let fails = async |plan: TroublePlan| has_null_target(&plan).then_some(());
    let smallest = smallest(tree.as_mut(), (), 2, fails, |before, _| told.push(before)).await;
    assert_eq!((smallest.tried, told), (2, vec![0, 1]));
    assert!(!smallest.is_final && has_null_target(&smallest.value));
}

#[test]
fn a_plan_reads_well() {
    let slow = Fault::Latency {
        of: Span::from_millis(250),
        jitter: Span::ZERO,
    };
    let planned = |begins, lasts, trouble| PlannedTrouble {
        begins,
        lasts,
        trouble,
    };
    let fault = Trouble::Fault(Arc::new(ScopedFault::from(slow)));
    let plan = TroublePlan {
        troubles: vec![planned(5, 2, fault), planned(3, 7, null_target())],
    };
    let text = plan.text("A watcher failed here: explored-1-1\n").unwrap();
    insta::assert_snapshot!(format!("{plan}\n\n{text}"));
}
