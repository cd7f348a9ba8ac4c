//! The plans of the area.

use std::collections::BTreeSet;
use std::sync::{Arc, LazyLock};
use std::time::Duration;

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::drift::DriftClass;
use coldbed_mock::sim::Phase;

use super::super::scene::{self, Scene};
use super::super::{Check, Context, Field, Step, checks, spots};
use crate::oracle::Timing;

/// Reads each dialect once: it is tried with many truths then.
fn file(name: &str) -> Arc<DialectFile> {
    static FILES: LazyLock<[Arc<DialectFile>; 2]> = LazyLock::new(|| {
        ["plain", "senml"].map(|name| Arc::new(DialectFile::builtin(name).unwrap()))
    });
    Arc::clone(&FILES[usize::from(name == "senml")])
}

pub(super) fn context(dialect: &str, asked: &str, seed: u32) -> Context {
    let second = Duration::from_secs(1);
    Context {
        scenario: crate::check::scenario(scene::SCENARIO),
        timing: Timing {
            interval: second,
            longest_interval: second,
            longest_idle_interval: second,
            longest_claim_gap: second,
            harness_delay: Duration::ZERO,
        },
        dialect: file(dialect),
        key: format!("key-{seed}"),
        reported: Field::ALL.into_iter().collect(),
        asked: BTreeSet::from([asked.to_owned()]),
        takes_interval: false,
        subscribes: false,
        commands: Vec::new(),
    }
}

fn labels(check: &Check, context: &Context) -> Vec<String> {
    let plan = (check.plan)(context).unwrap_or_else(|why| panic!("{}: {}", check.id, why.0));
    plan.steps
        .iter()
        .filter_map(|step| match step {
            Step::Trial { label, .. } => Some(label.clone()),
            _ => None,
        })
        .collect()
}

fn labels_of(id: &str, context: &Context) -> Vec<String> {
    let checks = checks();
    labels(checks.iter().find(|check| check.id == id).unwrap(), context)
}

#[test]
fn each_check_has_trials_with_labels_of_their_own_and_few_enough_for_a_minute() {
    for (dialect, asked) in [("plain", "/printer"), ("senml", "/senml")] {
        let context = context(dialect, asked, 1);
        for check in checks() {
            let Ok(_) = (check.plan)(&context) else {
                // A pack of records has no lists of reasons and no object of heaters.
                assert_eq!(dialect, "senml", "{}", check.id);
                continue;
            };
            let labels = labels(&check, &context);
            let distinct: BTreeSet<&String> = labels.iter().collect();
            assert_eq!(distinct.len(), labels.len(), "{}: {labels:?}", check.id);
            assert!((2..=17).contains(&labels.len()), "{}", check.id);
        }
    }
}

#[test]
fn a_place_is_tried_where_the_body_that_is_asked_for_has_it() {
    let whole = context("plain", "/printer", 1);
    assert_eq!(
        labels_of("null-target-survived", &whole)[..2],
        [
            "replace-by-null at /heaters/extruder/target-celsius",
            "replace-by-null at /heaters/platform/target-celsius",
        ]
    );
    let part = context("plain", "/heaters/extruder", 1);
    assert_eq!(
        labels_of("null-target-survived", &part)[..1],
        ["replace-by-null at /target-celsius"]
    );
}

#[test]
fn the_job_is_tried_piece_by_piece_and_as_a_whole() {
    let whole = context("plain", "/printer", 1);
    assert_eq!(
        labels_of("missing-job-is-unknown", &whole)[..5],
        [
            "remove-member at /job/progress-percent",
            "remove-member at /job/elapsed-seconds",
            "remove-member at /job/remaining-seconds",
            "remove-member at /job/job-name",
            "remove-member at /job",
        ]
    );
}

#[test]
fn every_drift_fits_the_body_it_is_raised_on() {
    for (dialect, asked) in [("plain", "/printer"), ("senml", "/senml")] {
        let context = context(dialect, asked, 1);
        let heating = scene::truth_at(scene::moment(Scene::Heating, 1));
        let mut bodies = spots::bodies(&context);
        bodies.extend(
            context
                .dialect
                .first()
                .bodies_at(&heating, |path| path == asked),
        );
        for check in checks() {
            let Ok(plan) = (check.plan)(&context) else {
                continue;
            };
            for step in &plan.steps {
                let Step::Trial { label, steps } = step else {
                    continue;
                };
                let drifts = steps.iter().filter_map(|step| match step {
                    Step::RaiseDrift(drift) => Some(drift),
                    _ => None,
                });
                for drift in drifts.take(1) {
                    let fits = bodies.iter().any(|body| drift.fits(body).is_ok());
                    assert!(fits, "{} {dialect}: {label}", check.id);
                }
            }
        }
    }
}

#[test]
fn in_each_scene_everything_is_another_value_than_before() {
    for job in 1..20 {
        let old = scene::truth_at(scene::finished(job - 1));
        assert_eq!(old.phase, Phase::Finished, "job {job}");
        for (scene, phase) in [
            (Scene::Printing, Phase::Printing),
            (Scene::Heating, Phase::Heating),
        ] {
            let new = scene::truth_at(scene::moment(scene, job));
            assert_eq!(new.phase, phase, "job {job}");
            for (name, heater) in &new.heaters {
                let was = &old.heaters[name];
                assert_ne!(heater.on, was.on);
                let apart = heater.actual_celsius.unwrap() - was.actual_celsius.unwrap();
                assert!(
                    apart.abs() > 2.0 || scene == Scene::Heating,
                    "{name} {job} {apart}"
                );
            }
            let (new, old) = (new.job.unwrap(), old.job.clone().unwrap());
            assert_ne!(new.name, old.name);
            assert!((new.progress_percent - old.progress_percent).abs() > 10.0);
            assert!((new.elapsed_seconds - old.elapsed_seconds).abs() > 10.0);
        }
    }
}

#[test]
fn the_seed_chooses_among_more_than_there_is_time_for() {
    let id = "json-corpus-survived-numbers";
    let one = labels_of(id, &context("plain", "/printer", 1));
    assert_eq!(one, labels_of(id, &context("plain", "/printer", 1)));
    assert_ne!(one, labels_of(id, &context("plain", "/printer", 2)));
}

#[test]
fn a_trial_owes_what_its_drift_suggests() {
    let context = context("plain", "/printer", 1);
    for (id, class) in [
        ("extra-field-ignored", DriftClass::Compatible),
        ("renamed-job-is-unknown", DriftClass::Breaking),
        ("cut-body-not-believed", DriftClass::Hostile),
    ] {
        let check = checks().into_iter().find(|check| check.id == id).unwrap();
        let plan = (check.plan)(&context).unwrap();
        for step in plan.steps {
            let Step::Trial { steps, .. } = step else {
                continue;
            };
            for step in steps {
                if let Step::RaiseDrift(drift) = step {
                    assert_eq!(drift.class, class, "{id}");
                }
            }
        }
    }
}
