//! How a watcher that is Rust code is judged in its own tests. Copy it.

use std::time::Duration;

use coldbed::bench::Bench;
use coldbed::oracle::{Verdict, verify_general, verify_target_temperatures};
use coldbed::run::Outcome;
use coldbed::watcher::{Claim, Sighting};
use coldbed_mock::drift::{Drift, ReplaceByNull};
use coldbed_mock::fault::Fault;
use coldbed_mock::sim::Phase;
use serde_json::Value;

/// How often the watcher asks. In a test it may ask more often than at home.
const EVERY: Duration = Duration::from_millis(50);

/// Is a small watcher, as somebody may have one.
struct MyWatcher {
    client: reqwest::Client,
    printer: String,
    key: String,
}

impl MyWatcher {
    fn new(url: &str, key: &str) -> Self {
        let client = reqwest::Client::builder()
            .timeout(Duration::from_secs(2))
            .redirect(reqwest::redirect::Policy::none())
            .build();
        Self {
            client: client.expect("a client"),
            printer: format!("{url}/printer"),
            key: key.to_owned(),
        }
    }

    async fn poll(&self) -> Sighting {
        match self.ask().await {
            Ok(printer) => seen(&printer),
            // What was seen before may not be true any more.
            Err(_) => Sighting::new().phase(Claim::Unknown),
        }
    }

    async fn ask(&self) -> Result<Value, reqwest::Error> {
        let asked = self.client.get(&self.printer).bearer_auth(&self.key);
        asked.send().await?.error_for_status()?.json().await
    }
}

fn seen(printer: &Value) -> Sighting {
    let celsius = |name: &str| printer["heaters"]["extruder"][name].as_f64();
    let target = celsius("target-celsius");
    Sighting::new()
        .phase(phase(printer))
        .heater("extruder", |heater| {
            heater
                .actual_celsius(celsius("actual-celsius"))
                .target_celsius(target)
                .on(target.map(|target| target > 0.0))
        })
}

/// The phase, or `None` for what it cannot make out.
fn phase(printer: &Value) -> Option<Phase> {
    let reasons = printer["printer-state-reasons"].as_array()?;
    let is_heating = |reason: &Value| {
        reason
            .as_str()
            .is_some_and(|reason| reason.ends_with("-heating-report"))
    };
    let heats = reasons.iter().any(is_heating);
    if printer["job"].is_null() {
        return match printer["printer-state"].as_str()? {
            "stopped" => Some(Phase::Error),
            _ if heats => Some(Phase::Heating),
            _ => Some(Phase::Idle),
        };
    }
    match printer["job"]["job-state"].as_str()? {
        "processing" if heats => Some(Phase::Heating),
        "processing" => Some(Phase::Printing),
        "processing-stopped" => Some(Phase::Paused),
        "pending" | "pending-held" => Some(Phase::Idle),
        "completed" => Some(Phase::Finished),
        "canceled" => Some(Phase::Cancelled),
        "aborted" => Some(Phase::Error),
        _ => None,
    }
}

const RULES: [&str; 3] = ["phase-paused", "target-temperature", "null-target-survived"];

#[tokio::test(flavor = "multi_thread")]
async fn my_watcher_keeps_the_rules() {
    let report = Bench::new("plain")
        .judge(|call, sightings| async move {
            let watcher = MyWatcher::new(&call.url, &call.key);
            loop {
                sightings.say(watcher.poll().await);
                tokio::time::sleep(EVERY).await;
            }
        })
        .only(RULES)
        .run()
        .await
        .expect("the bench can be set up");
    report.assert();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_watcher_that_takes_null_for_nought_is_told_which_rule_it_breaks() {
    let report = Bench::new("plain")
        .judge(|call, sightings| async move {
            let watcher = MyWatcher::new(&call.url, &call.key);
            loop {
                let Ok(printer) = watcher.ask().await else {
                    continue;
                };
                let target = printer["heaters"]["extruder"]["target-celsius"].as_f64();
                sightings.say(seen(&printer).heater("extruder", |heater| {
                    heater
                        .target_celsius(target.unwrap_or(0.0))
                        .on(target.is_some())
                }));
                tokio::time::sleep(EVERY).await;
            }
        })
        .only(RULES)
        .run()
        .await
        .expect("the bench can be set up");
    assert!(!report.holds());
    let failed = |id: &str| matches!(report.outcome(id), Some(Outcome::Failed(_)));
    assert_eq!(RULES.map(failed), [false, false, true], "{report}");
    assert!(
        report.to_string().contains("null-target-survived (must)"),
        "{report}"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_panic_is_the_watchers_end_and_not_the_tests() {
    let report = Bench::new("plain")
        .judge(|call, sightings| async move {
            let watcher = MyWatcher::new(&call.url, &call.key);
            loop {
                let printer = watcher.ask().await.expect("an answer");
                let target = printer["heaters"]["extruder"]["target-celsius"].as_f64();
                sightings.say(seen(&printer).heater("extruder", |heater| {
                    heater.target_celsius(target.expect("a number"))
                }));
                tokio::time::sleep(EVERY).await;
            }
        })
        .only(["null-target-survived"])
        .run()
        .await
        .expect("the bench can be set up");
    let Some(Outcome::Failed(violations)) = report.outcome("null-target-survived") else {
        panic!("{report}");
    };
    assert!(
        violations[0].observed.starts_with("it ended by itself"),
        "{report}"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn steps_by_hand_show_what_my_watcher_makes_of_a_null_and_of_silence() {
    let bench = Bench::host("heat-up").await.expect("a host");
    let watcher = MyWatcher::new(&bench.url(), bench.key());
    bench.jump_to(Duration::from_secs(300));
    bench.sighting(watcher.poll().await);
    assert!(matches!(
        bench.verdict(EVERY, verify_target_temperatures),
        Verdict::Held { .. }
    ));

    let null = Drift::of("/heaters/extruder/target-celsius", ReplaceByNull);
    let drifted = bench.drifts().raise(null);
    let seen = watcher.poll().await;
    assert_eq!(seen.heaters["extruder"].target_celsius, Claim::Unknown);
    assert!(!seen.says_unknown());
    bench.sighting(seen);
    drop(drifted);

    let refused = bench.faults().raise(Fault::Refuse);
    refused.settled().await;
    let seen = watcher.poll().await;
    assert!(seen.says_unknown());
    bench.sighting(seen);
    refused.clear().await;

    bench.sighting(watcher.poll().await);
    let dialect = bench.dialect().clone();
    let verdict = bench.verdict(EVERY, |trace| verify_general(trace, dialect.first()));
    assert!(matches!(verdict, Verdict::Held { .. }), "{verdict:?}");
    bench.stop().await;
}
