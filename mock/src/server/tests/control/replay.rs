//! A log makes the same run again, to the byte.

use std::time::Duration;

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::{Value, json};

use super::super::common::{Bench, Client};
use super::{control, with};
use crate::control::{Change, Entry, LoggedRun};
use crate::drift::Drift;
use crate::fault::ScopedFault;
use crate::server::{Host, StartError};
use crate::sim::VirtualTime;

/// What somebody may do between two looks.
#[derive(Debug, Clone)]
enum Step {
    Event(Value),
    Raise(Value),
    ClearFault,
    Drift(Value),
    ClearDrift,
    Command(&'static str),
}

/// A while, what is done then, and what a client asks for afterwards.
#[derive(Debug, Clone)]
struct Round {
    after: Duration,
    steps: Vec<Step>,
    asks: Vec<&'static str>,
}

fn any_step() -> impl Strategy<Value = Step> {
    let events = [
        json!({ "action": "pause" }),
        json!({ "action": "resume" }),
        json!({ "action": "jam" }),
        json!({ "action": "door-opens" }),
        json!({ "action": "door-closes" }),
        json!({ "action": "sensor-fails", "heater": "extruder", "kind": "loose", "probability": 0.3 }),
        json!({ "action": "sensor-mended", "heater": "extruder" }),
        json!({ "action": "heater-fails", "heater": "platform" }),
        json!({ "action": "clock-set-back", "by": "1h" }),
        json!({ "action": "host-restart", "lasts": "20s" }),
        json!({ "action": "host-updated" }),
        json!({ "action": "power-dip", "lasts": "5s" }),
        json!({ "action": "clear-job" }),
    ];
    let faults = [
        json!({ "fault": "refuse", "scope": { "lasts": "90s" } }),
        json!({ "fault": { "status": { "code": 503 } }, "scope": { "method": "GET", "times": 2 } }),
        json!({ "fault": { "reset": { "at": { "body-byte": 12 } } },
                "scope": { "method": "GET", "probability": 0.5, "seed": 3 } }),
        json!({ "fault": "login-page", "scope": { "after": "30s", "lasts": "2m", "method": "GET" } }),
    ];
    let drifts = [
        json!({ "name": "a", "pointer": "/heaters/extruder", "change": "replace-by-null",
                "class": "breaking" }),
        json!({ "name": "b", "pointer": "/printer-up-time", "change": "number-as-text",
                "class": "breaking" }),
    ];
    prop_oneof![
        4 => prop::sample::select(events.to_vec()).prop_map(Step::Event),
        1 => (0.0..110.0_f64).prop_map(|celsius| Step::Event(
            json!({ "action": "set-target", "heater": "platform", "celsius": celsius })
        )),
        2 => prop::sample::select(faults.to_vec()).prop_map(Step::Raise),
        1 => Just(Step::ClearFault),
        2 => prop::sample::select(drifts.to_vec()).prop_map(Step::Drift),
        1 => Just(Step::ClearDrift),
        2 => prop::sample::select(vec![
            "POST /job/pause",
            "POST /job/resume",
            "PUT /heaters/platform/target\nContent-Type: application/json\n\n{\"target-celsius\":61.7}",
        ])
        .prop_map(Step::Command),
    ]
}

fn any_round() -> impl Strategy<Value = Round> {
    let asks = prop::sample::select(vec!["GET /printer", "GET /job", "GET /heaters/extruder"]);
    (
        1..300_000_000_000_u64,
        prop::collection::vec(any_step(), 0..3),
        prop::collection::vec(asks, 0..3),
    )
        .prop_map(|(nanos, steps, asks)| Round {
            after: Duration::from_nanos(nanos),
            steps,
            asks,
        })
}

/// What a client gets: nothing where it is refused, and otherwise every byte but the real date, and
/// how it ended.
async fn get(host: &Host, request: &str) -> Option<(String, Option<std::io::ErrorKind>)> {
    if host.faults().is_unreachable() {
        // A connect would wait until the power is back, which the stopped clock never shows.
        return Some(("no packet comes or goes".to_owned(), None));
    }
    let mut client = Client::to(host.local_addr()).await.ok()?;
    let (line, rest) = request.split_once('\n').unwrap_or((request, ""));
    client
        .send(&format!("{line}\nConnection: close\n{rest}"))
        .await;
    let (bytes, end) = client.rest().await;
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let lines = text.lines().filter(|line| !line.starts_with("date: "));
    Some((
        lines.collect::<Vec<_>>().join("\n"),
        end.err().map(|error| error.kind()),
    ))
}

type Seen = (
    VirtualTime,
    Vec<Option<(String, Option<std::io::ErrorKind>)>>,
    Value,
);

async fn look(bench: &Bench, asks: &[&str]) -> Seen {
    let host = &bench.host;
    let mut seen = Vec::new();
    for request in asks {
        seen.push(get(host, request).await);
    }
    let truth = serde_json::to_value(&*host.truth()).unwrap();
    (host.clock().now(), seen, truth)
}

async fn take(bench: &Bench, step: &Step) {
    let control = control(bench);
    match step {
        Step::Event(keys) => drop(control.issue(keys.as_object().unwrap().clone()).unwrap()),
        Step::Raise(fault) => {
            let fault: ScopedFault = serde_json::from_value(fault.clone()).unwrap();
            control.raise_fault(fault).unwrap();
        }
        Step::ClearFault => {
            if let Some(id) = control.faults().iter().find_map(|fault| fault.id) {
                control.clear_fault(id).unwrap();
            }
        }
        Step::Drift(drift) => {
            let drift: Drift = serde_json::from_value(drift.clone()).unwrap();
            control.raise_drift(drift).unwrap();
        }
        Step::ClearDrift => {
            if let Some(id) = control.drifts().iter().find_map(|drift| drift.id) {
                control.clear_drift(id).unwrap();
            }
        }
        // Whether it is let through is part of the play.
        Step::Command(request) => drop(get(&bench.host, request).await),
    }
    control.settled().await;
}

async fn replaying(log: &str) -> Bench {
    let run = LoggedRun::read(log.as_bytes()).unwrap();
    with(|options| options.control.as_mut().unwrap().replay = Some(run)).await
}

/// Gives what a log says, without what is said about the clock and without the numbers, which the
/// former have too.
fn changes(log: &str) -> Vec<(VirtualTime, String)> {
    let run = LoggedRun::read(log.as_bytes()).unwrap();
    let entries = run
        .entries
        .into_iter()
        .filter_map(|Entry { at, change, .. }| match change {
            Change::Clock(_) => None,
            Change::FaultCleared(_) => Some((at, "fault cleared".to_owned())),
            Change::DriftCleared(_) => Some((at, "drift cleared".to_owned())),
            other => Some((at, format!("{other:?}"))),
        });
    let mut changes: Vec<_> = entries.collect();
    // At one moment those of the boards and those of the printer may stand in either order: neither
    // sees the other.
    changes.sort_by_key(|(at, what)| {
        (
            *at,
            what.starts_with("Event") || what.starts_with("Command"),
        )
    });
    changes
}

async fn play(rounds: &[Round]) -> Result<(), TestCaseError> {
    let first = with(|_| {}).await;
    let mut seen = Vec::new();
    for round in rounds {
        let by = crate::control::Jump::By(crate::fault::Span(round.after));
        control(&first).jump(by).unwrap();
        control(&first).settled().await;
        for step in &round.steps {
            take(&first, step).await;
        }
        seen.push(look(&first, &round.asks).await);
    }
    let log = control(&first).log();

    let second = replaying(&log).await;
    for (round, was) in rounds.iter().zip(seen) {
        second.host.clock().jump_to(was.0).unwrap();
        // Whoever waits for the network to be as it was waits for this.
        control(&second).faults();
        control(&second).settled().await;
        let is = look(&second, &round.asks).await;
        prop_assert_eq!(is, was, "in {}", log);
    }
    prop_assert_eq!(changes(&control(&second).log()), changes(&log));
    Ok(())
}

#[test]
fn a_replayed_log_gives_the_same_bytes_and_the_same_faults_at_the_same_moments() {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    // Each case starts two hosts and plays some hours of a printer's life.
    let mut runner = TestRunner::new(Config {
        cases: 24,
        max_shrink_iters: 100,
        failure_persistence: None,
        ..Config::default()
    });
    let rounds = prop::collection::vec(any_round(), 1..8);
    let played = runner.run(&rounds, |rounds| runtime.block_on(play(&rounds)));
    played.unwrap_or_else(|error| panic!("{error}"));
}

#[tokio::test]
async fn a_replay_that_begins_late_has_every_change_at_its_own_moment() {
    let first = with(|_| {}).await;
    let clock = first.host.clock().clone();
    clock
        .jump_to(VirtualTime::new(Duration::from_secs(1800)))
        .unwrap();
    take(
        &first,
        &Step::Event(json!({ "action": "set-target", "heater": "platform", "celsius": 40 })),
    )
    .await;
    clock.jump_to(super::PRINTING).unwrap();
    let was = look(&first, &["GET /printer"]).await;
    let log = control(&first).log();

    let run = LoggedRun::read(log.as_bytes()).unwrap();
    let second = with(|options| {
        options.clock = crate::server::Clock::paused_at(super::PRINTING);
        options.control.as_mut().unwrap().replay = Some(run);
    })
    .await;
    assert_eq!(look(&second, &["GET /printer"]).await, was);
}

#[tokio::test]
async fn a_replayed_fault_comes_and_goes_by_itself_while_nobody_asks() {
    let entry = |number: u64, at: &str, change: &str| {
        format!(r#"{{"number":{number},"at":"{at}","change":{change}}}"#)
    };
    let header = r#"{"coldbed-log":1,"scenario":"printing","seed":1,"dialect":"plain","dialect-version":"1.0"}"#;
    let raised = entry(1, "10s", r#"{"fault-raised":{"fault":"refuse"}}"#);
    let cleared = entry(2, "20s", r#"{"fault-cleared":1}"#);
    let bench = replaying(&[header, &raised, &cleared].join("\n")).await;
    let clock = bench.host.clock();
    clock.step(Duration::from_secs(9));
    assert!(bench.notes.count(|event| event.starts_with("Fault")) == 0);
    clock.step(Duration::from_secs(1));
    bench.notes.wait_for("FaultRaised", 1).await;
    clock.step(Duration::from_secs(10));
    bench.notes.wait_for("FaultCleared", 1).await;
}

#[tokio::test]
async fn a_log_of_another_run_is_refused_with_what_differs() {
    let header = |scenario: &str, seed: u64, dialect: &str| {
        format!(
            r#"{{"coldbed-log":1,"scenario":"{scenario}","seed":{seed},"dialect":"{dialect}","dialect-version":"1.0"}}"#
        )
    };
    let here = header("printing", 1, "plain");
    let entry =
        |change: &str| format!("{here}\n{{\"number\":7,\"at\":\"1h\",\"change\":{change}}}");
    let mut told = Vec::new();
    for log in [
        header("paused", 1, "plain"),
        header("printing", 2, "plain"),
        header("printing", 1, "flat"),
        entry(r#"{"event":{"action":"heater-fails","heater":"chamber"}}"#),
        entry(r#"{"event":{"action":"host-updated","version":"9"}}"#),
        entry(r#"{"fault-raised":{"fault":"tls-without-notify"}}"#),
        entry(r#"{"fault-raised":{"fault":"refuse","scope":{"times":2}}}"#),
        entry(r#"{"fault-cleared":6}"#),
    ] {
        let mut options = super::options();
        options.control = Some(crate::server::ControlOptions {
            replay: Some(LoggedRun::read(log.as_bytes()).unwrap()),
            ..crate::server::ControlOptions::default()
        });
        let error = Host::start(options).await.unwrap_err();
        assert!(matches!(error, StartError::Replay(_)), "{error}");
        told.push(error.to_string());
    }
    insta::assert_snapshot!(told.join("\n"));
}
