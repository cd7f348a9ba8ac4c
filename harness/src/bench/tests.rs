//! What a bench refuses, and what its report says.

use std::sync::Arc;
use std::time::Duration;

use super::*;
use crate::check::{Field, catalogue};
use crate::oracle::Timing;
use crate::run::{Calibration, CheckResult, Outcome};

fn judged(dialect: &str) -> Judged {
    Bench::new(dialect).judge(|_, _| std::future::pending())
}

#[tokio::test]
async fn what_is_not_there_is_told_before_anything_runs() {
    let told = async |judged: Judged| judged.run().await.unwrap_err().to_string();
    assert_eq!(
        told(judged("plane")).await,
        "there is no built-in dialect `plane`"
    );
    let nowhere = judged("plain").area("weather");
    assert_eq!(
        told(nowhere).await,
        "there is no area `weather` of the catalogue"
    );
    let nobody = judged("plain").only(["progres"]).run().await.unwrap_err();
    let source = std::error::Error::source(&nobody).unwrap().to_string();
    assert!(
        source.starts_with("no check is called `progres`"),
        "{source}"
    );
    let no_scenario = Bench::host("heat").await.unwrap_err().to_string();
    assert_eq!(
        no_scenario,
        "there is no built-in scenario `heat` [see `coldbed list`]"
    );
}

#[tokio::test]
async fn an_area_stands_for_its_checks_and_ids_come_on_top() {
    let checks = judged("plain").area("drift").only(["progress"]).checks();
    let checks = checks.unwrap();
    let of_drift = catalogue()
        .into_iter()
        .filter(|check| check.area.word() == "drift");
    assert_eq!(checks.len(), of_drift.count() + 1);
}

fn report(outcome: Outcome) -> BenchReport {
    let check = catalogue()[0];
    BenchReport {
        calibration: Calibration {
            timing: Timing::every(Duration::from_secs(1)),
            reported: [Field::Phase].into(),
            asked: std::collections::BTreeSet::new(),
            subscribes: false,
            traffic: crate::power::Traffic::default(),
            processor_share: 0.0,
        },
        results: vec![CheckResult {
            check,
            outcome,
            attempts: Vec::new(),
        }],
    }
}

#[test]
#[should_panic(expected = "nothing was judged")]
fn a_report_in_which_nothing_was_judged_is_no_success() {
    let reason = "the watcher does not report it".to_owned();
    report(Outcome::Skipped { reason }).assert();
}

#[test]
#[should_panic(expected = "the watcher breaks a rule")]
fn a_broken_must_panics_with_the_details() {
    report(Outcome::Failed(Vec::new())).assert();
}

#[test]
fn a_rule_that_was_kept_is_enough() {
    let note = String::new();
    let report = report(Outcome::Passed { note });
    report.assert();
    assert_eq!(report.outcome("no-such-id"), None);
}

#[tokio::test]
async fn a_host_of_a_bench_keeps_what_it_answered_and_what_was_claimed() {
    let bench = Bench::host("heat-up").await.unwrap();
    let before = bench.truth();
    bench.jump_to(Duration::from_secs(300));
    assert_ne!(Arc::clone(&before), bench.truth());
    bench.sighting(crate::watcher::Sighting::new());
    let events = bench.stop().await;
    assert_eq!(events.len(), 1, "{events:?}");
}

#[tokio::test]
async fn a_trouble_is_noted_once_when_it_begins_and_once_when_it_ends() {
    use coldbed_mock::drift::{Drift, ReplaceByNull};
    use coldbed_mock::fault::Fault;
    use coldbed_mock::sim::Trouble;

    use crate::event::EventKind;

    let bench = Bench::host("heat-up").await.unwrap();
    let null = Drift::of("/job", ReplaceByNull);
    drop(bench.drifts().raise(null.clone()));
    let guard = bench.faults().raise(Fault::Silent);
    guard.settled().await;
    guard.clear().await;
    let drift = Trouble::Drift(Arc::new(null));
    let fault = Trouble::Fault(Arc::new(Fault::Silent.into()));
    let noted: Vec<(bool, Trouble)> = bench
        .stop()
        .await
        .into_iter()
        .filter_map(|event| match event.kind {
            EventKind::TroubleBegan { trouble } => Some((true, trouble)),
            EventKind::TroubleEnded { trouble } => Some((false, trouble)),
            _ => None,
        })
        .collect();
    let [drifted, failed] = [drift, fault].map(|it| [(true, it.clone()), (false, it)]);
    assert_eq!(noted, [drifted, failed].concat());
}
