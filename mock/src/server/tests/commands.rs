//! Requests that ask something of the printer.

use super::common::Bench;
use crate::sim::Phase;

#[tokio::test]
async fn a_job_is_paused_and_the_answer_shows_it() {
    let bench = Bench::printing().await;
    let reply = bench.ask("POST /job/pause").await;
    assert_eq!(reply.status, 200, "{reply:?}");
    assert_eq!(reply.json()["job-state"], "processing-stopped");
    assert_eq!(bench.host.truth().phase, Phase::Paused);
    // The clock stands still: without regard to the command the kept body would be shown.
    let shown = bench.ask("GET /job").await;
    assert_eq!(shown.body, reply.body);
}

#[tokio::test]
async fn a_command_at_the_wrong_time_is_a_conflict_rfc_9110_s15_5_10() {
    let bench = Bench::printing().await;
    let reply = bench.ask("POST /job/resume").await;
    assert_eq!(reply.status, 409, "{reply:?}");
    let bench = Bench::start().await;
    assert_eq!(bench.ask("POST /job/pause").await.status, 404);
}

#[tokio::test]
async fn a_target_is_set_and_the_answer_shows_it() {
    let bench = Bench::start().await;
    let reply = bench
        .ask("PUT /heaters/platform/target\n\n{\"target-celsius\": 61.5, \"other\": 1}")
        .await;
    assert_eq!(reply.status, 200, "{reply:?}");
    assert_eq!(reply.json()["target-celsius"], 61.5);
    let target = bench.host.truth().heaters["platform"].target_celsius;
    assert_eq!(target.to_bits(), 61.5_f64.to_bits());
}

#[tokio::test]
async fn a_bad_argument_is_named_by_its_pointer_rfc_9110_s15_5_1() {
    let bench = Bench::start().await;
    for (body, pointer, detail) in [
        ("", "", "the request has no body"),
        ("{", "", "the body is not JSON: "),
        ("[]", "/target-celsius", "/target-celsius is missing"),
        (
            "{\"target\": 1}",
            "/target-celsius",
            "/target-celsius is missing",
        ),
        (
            "{\"target-celsius\": \"60\"}",
            "/target-celsius",
            "/target-celsius is not a number: \"60\"",
        ),
        (
            "{\"target-celsius\": null}",
            "/target-celsius",
            "/target-celsius is not a number: null",
        ),
    ] {
        let reply = bench
            .ask(&format!("PUT /heaters/platform/target\n\n{body}"))
            .await;
        assert_eq!(reply.status, 400, "{body}");
        let problem = reply.json();
        assert_eq!(problem["pointer"], pointer, "{body}");
        let told = problem["detail"].as_str().unwrap();
        assert!(told.starts_with(detail), "{body}: {told}");
    }
}

#[tokio::test]
async fn a_target_that_cannot_be_followed_is_422_and_a_strange_heater_404() {
    let bench = Bench::start().await;
    let ask = |heater: &str, celsius: &str| {
        format!("PUT /heaters/{heater}/target\n\n{{\"target-celsius\": {celsius}}}")
    };
    for (heater, celsius, status) in [
        ("platform", "9999", 422),
        ("platform", "-1", 422),
        ("bedroom", "20", 404),
    ] {
        let reply = bench.ask(&ask(heater, celsius)).await;
        assert_eq!(reply.status, status, "{heater} {celsius}: {reply:?}");
    }
}
