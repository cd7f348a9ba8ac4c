//! The forms of the report, made from runs of our own invention.

mod baseline;
mod html;
mod junit;
mod model;
mod style;
mod tap;
mod terminal;

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::{Simulation, VirtualTime};

use super::*;
use crate::check::{Area, Check, Field, Level, NotPlanned};
use crate::event::{Event, EventKind};
use crate::oracle::{Timing, Verdict as Judged, Violation};
use crate::run::{Attempt, Calibration, CheckResult, Outcome};
use crate::watcher::Sighting;

const SECOND: Duration = Duration::from_secs(1);

const TIMING: Timing = Timing {
    interval: SECOND,
    longest_interval: SECOND,
    longest_idle_interval: SECOND,
    longest_claim_gap: SECOND,
    harness_delay: Duration::from_millis(2),
};

/// Is a check that is never run.
fn check(id: &'static str, area: Area, level: Level) -> Check {
    Check {
        id,
        area,
        level,
        requirement: "what the host no longer says is not shown as if it were said now",
        source: "common practice",
        provoked: "the bodies are changed for six answers",
        judged: "each claim is held against the answers it may rest on",
        scenario: "heat-up",
        needs: Field::Anything,
        plan: |_| Err(NotPlanned(String::new())),
        oracle: |_, _| Judged::NotJudged {
            reason: String::new(),
        },
    }
}

fn violation(subject: Option<&str>, at_ms: u64, observed: &str) -> Violation {
    Violation {
        subject: subject.map(str::to_owned),
        at: Duration::from_millis(at_ms),
        allowed: "extruder target-celsius 210, as served until 0.31 s before".to_owned(),
        observed: observed.to_owned(),
    }
}

fn attempt(verdict: Judged, events: Vec<Event>) -> Attempt {
    Attempt {
        verdict,
        events: events.into(),
        timing: TIMING,
        took: Duration::from_millis(12_345),
    }
}

fn broken(check: Check, violations: &[Violation], events: &[Event]) -> CheckResult {
    let verdict = Judged::Violated(violations.to_vec());
    CheckResult {
        check,
        outcome: Outcome::Failed(violations.to_vec()),
        attempts: vec![
            attempt(verdict.clone(), events.to_vec()),
            attempt(verdict, events.to_vec()),
        ],
    }
}

fn passed(check: Check, note: &str) -> CheckResult {
    let note = note.to_owned();
    CheckResult {
        check,
        outcome: Outcome::Passed { note: note.clone() },
        attempts: vec![attempt(Judged::Held { note }, Vec::new())],
    }
}

fn skipped(check: Check, reason: &str) -> CheckResult {
    CheckResult {
        check,
        outcome: Outcome::Skipped {
            reason: reason.to_owned(),
        },
        attempts: Vec::new(),
    }
}

/// Is a run of ten polls, a claim after each; a line of the watcher's own, a fault for a while, and a
/// drift in a trial.
fn run(line: &str) -> Vec<Event> {
    let scenario = Arc::new(Scenario::builtin("heat-up").unwrap().unwrap());
    let mut printer = Simulation::new(scenario, 1);
    let mut events = Vec::new();
    let mut note = |at_ms: u64, kind| {
        let at = Duration::from_millis(at_ms);
        events.push(Event { at, kind });
    };
    for poll in 0..10_u64 {
        let at = poll * 1000;
        let truth = printer.truth_at(VirtualTime::new(30 * SECOND + 12 * SECOND * poll as u32));
        note(
            at,
            EventKind::Request {
                connection: poll,
                exchange: poll,
                method: "GET".to_owned(),
                target: "/printer".to_owned(),
                headers: vec![("accept".to_owned(), "application/json".to_owned())],
                body: Bytes::new(),
            },
        );
        note(
            at + 2,
            EventKind::Answer {
                exchange: poll,
                status: if poll == 6 { 503 } else { 200 },
                headers: vec![("content-type".to_owned(), "application/json".to_owned())],
                body: Bytes::from(format!("{{\"note\":\"{}\"}}\u{0}", "x".repeat(2000))),
                truth: Arc::new(truth),
            },
        );
        let claim = r#"{"phase":"heating","heaters":{"extruder":{"actual-celsius":24,"target-celsius":200,"on":true}},"progress-percent":null}"#;
        let sighting = Sighting::from_line(claim).unwrap();
        note(at + 20, EventKind::Sighting(sighting));
        match poll {
            2 => note(
                at + 30,
                EventKind::Line {
                    on_stderr: true,
                    text: line.to_owned(),
                },
            ),
            4 => {
                let label = format!("a number as text at {line}");
                note(at + 40, EventKind::TrialBegan { label });
                let drift = "a number is written as text".to_owned();
                note(at + 50, EventKind::DriftRaised { drift });
            }
            5 => {
                let fault = "every answer is 503".to_owned();
                let begun = Duration::from_millis(at + 50);
                note(at + 50, EventKind::FaultRaised { fault, begun });
            }
            7 => note(at + 60, EventKind::FaultCleared),
            8 => note(at + 70, EventKind::TrialEnded),
            _ => {}
        }
    }
    events
}

fn head() -> ReportHead {
    ReportHead {
        watcher: "python3 my_watcher.py {url} {key}".to_owned(),
        dialect: "plain".to_owned(),
        seed: 1,
        part: Some("1/2".to_owned()),
        calibration: CalibrationReport::of(&Calibration {
            traffic: crate::power::Traffic::default(),
            processor_share: 0.0,
            asked: BTreeSet::new(),
            subscribes: false,
            timing: TIMING,
            reported: BTreeSet::from([Field::Nothing, Field::Anything, Field::Phase]),
        }),
    }
}

/// Is one result of each kind, the broken ones with what stands in `line`.
fn results(line: &str) -> Vec<CheckResult> {
    let (must, should) = (Level::Must, Level::Should);
    let at = |pointer: &str| format!("a number as text at {pointer}");
    let subjects: Vec<String> = (0..7).map(|n| at(&format!("/heaters/{n}"))).collect();
    let mut many: Vec<Violation> = subjects
        .iter()
        .map(|subject| violation(Some(subject), 7_130, "extruder target-celsius 200"))
        .collect();
    many.push(violation(Some(&subjects[0]), 8_200, line));
    let one = [violation(None, 7_500, line)];
    let unsteady = broken(
        check("temperature-stale", Area::Drift, must),
        &one,
        &run(line),
    );
    vec![
        passed(
            check("phase-told", Area::Telling, must),
            &"23 claims of phase, ".repeat(10),
        ),
        skipped(
            check("progress-told", Area::Telling, must),
            "the watcher does not report progress-percent",
        ),
        skipped(
            check("progress-rounded", Area::Telling, should),
            "the watcher does not report progress-percent",
        ),
        broken(
            check("target-as-text-believed", Area::Drift, must),
            &many,
            &run(line),
        ),
        CheckResult {
            outcome: Outcome::Unsteady(one.to_vec()),
            ..unsteady
        },
        broken(
            check("asks-without-etag", Area::Manners, should),
            &one,
            &run(line),
        ),
    ]
}

fn checks(results: &[CheckResult]) -> Vec<CheckReport> {
    results.iter().map(CheckReport::of).collect()
}

fn report(results: &[CheckResult]) -> Report {
    head().with(checks(results))
}

/// Is text as nobody expects it.
fn odd_text() -> impl proptest::strategy::Strategy<Value = String> {
    use proptest::prelude::*;
    let nasty = prop::sample::select(vec![
        "</script><b>",
        "]]>",
        "<![CDATA[",
        "&amp;",
        "\"'`",
        "# TODO",
        "# SKIP x",
        "\\",
        "\nok 1 - no",
        "\r\n...",
        "\n---",
        "\u{1b}[31m",
        "\u{0}",
        "\u{fffe}",
        "\u{202e}",
        "{{ 7 * 7 }}",
        "{% raw %}",
        "🖨",
        "ü",
    ]);
    let part = prop_oneof![nasty.prop_map(str::to_owned), any::<String>()];
    prop::collection::vec(part, 0..6).prop_map(|parts| parts.concat())
}
