//! The invented hosts `flat` and `nested` over the wire.

use std::sync::Arc;
use std::time::Duration;

use super::common::{Bench, PRINTING};
use crate::dialect::DialectFile;
use crate::sim::Phase;

async fn host(name: &str, key: Option<&str>) -> Bench {
    let bench = Bench::with(|options| {
        options.dialect = Arc::new(DialectFile::builtin(name).unwrap());
        options.key = key.map(str::to_owned);
    })
    .await;
    bench.host.clock().jump_to(PRINTING).unwrap();
    bench
}

#[tokio::test]
async fn the_flat_host_answers_200_whatever_happens() {
    let bench = host("flat", Some("s3cret")).await;
    for (request, ok) in [
        ("GET /all?pass=s3cret", "1"),
        ("GET /all?pass=guessed", "0"),
        ("GET /all", "0"),
        ("GET /no/such/page?pass=s3cret", "0"),
        ("POST /no/such/page?pass=s3cret", "0"),
        ("GET /press?button=none&pass=s3cret", "0"),
        ("GET /press?button=weave&pass=s3cret", "1"),
        ("GET /press?button=hush&pass=s3cret", "1"),
        ("GET /press?button=hush&pass=s3cret", "1"),
        ("GET /press?button=glow&part=oven&f=400&pass=s3cret", "0"),
        (
            "GET /press?button=glow&part=extruder&f=4000&pass=s3cret",
            "0",
        ),
    ] {
        let reply = bench.ask(request).await;
        assert_eq!(reply.status, 200, "{request}");
        assert_eq!(reply.json()["ok"], ok, "{request}");
    }
    assert_eq!(bench.host.truth().phase, Phase::Paused);
}

#[tokio::test]
async fn the_flat_host_is_told_fahrenheit_and_0_is_off() {
    let bench = host("flat", None).await;
    let target = || bench.host.truth().heaters["extruder"].target_celsius;
    bench
        .ask("GET /press?button=glow&part=extruder&f=392")
        .await;
    assert!((target() - 200.0).abs() < 1e-9);
    let all = bench.ask("GET /all").await.json();
    assert_eq!(all["extruder_goal_f"], "392");
    bench.ask("GET /press?button=glow&part=extruder&f=0").await;
    assert!(target() == 0.0);
}

const LOG_IN: &str = "POST /badges\n\n{\"who\": \"watcher\", \"word\": \"s3cret\"}";

#[tokio::test]
async fn the_nested_host_lets_in_from_log_in_to_log_out() {
    let bench = host("nested", Some("s3cret")).await;
    assert_eq!(bench.ask("GET /house").await.status, 401);
    let reply = bench.ask(LOG_IN).await;
    assert_eq!(reply.status, 201);
    let cookie = reply.field("set-cookie").unwrap();
    let badge = cookie.split(';').next().unwrap().to_owned();
    let with = |request: &str| format!("{request}\nCookie: {badge}");
    assert_eq!(bench.ask(&with("GET /house")).await.status, 200);
    assert_eq!(bench.ask(&with("DELETE /badges/mine")).await.status, 204);
    assert_eq!(bench.ask(&with("GET /house")).await.status, 401);
}

#[tokio::test]
async fn the_nested_host_does_a_named_request_once_and_not_at_once() {
    let bench = host("nested", None).await;
    let pause = "POST /house/work/interruption\nIdempotency-Key: one";
    assert_eq!(bench.ask(pause).await.status, 202);
    assert_eq!(bench.host.truth().phase, Phase::Printing);
    let clock = bench.host.clock();
    clock.jump_to(PRINTING + Duration::from_secs(5)).unwrap();
    assert_eq!(bench.host.truth().phase, Phase::Paused);
    let resume = "DELETE /house/work/interruption\nIdempotency-Key: two";
    assert_eq!(bench.ask(resume).await.status, 202);
    assert_eq!(bench.ask(pause).await.status, 202);
    clock.jump_to(PRINTING + Duration::from_secs(15)).unwrap();
    assert_ne!(bench.host.truth().phase, Phase::Paused);
}

#[tokio::test]
async fn the_nested_host_refuses_with_codes_of_its_own() {
    let bench = host("nested", None).await;
    for (request, status, code) in [
        ("DELETE /house/work", 409, "not-allowed-now"),
        ("DELETE /house/work/interruption", 409, "not-in-this-state"),
        ("POST /house/work/next", 409, "not-in-this-state"),
        (
            "PUT /house/tools/0/goal\n\n{\"value\": 2000}",
            422,
            "too-hot",
        ),
    ] {
        let reply = bench.ask(request).await;
        assert_eq!(reply.status, status, "{request}");
        assert_eq!(reply.json()["trouble"]["code"], code, "{request}");
    }
    let nowhere = bench
        .ask("PUT /house/tools/9/goal\n\n{\"value\": 20}")
        .await;
    assert_eq!(nowhere.json()["trouble"]["text"], "there is no tool 9");
    assert_eq!(nowhere.status, 404);
    let heated = bench
        .ask("PUT /house/tools/1/goal\n\n{\"value\": 45}")
        .await;
    assert_eq!(heated.json()[1]["heat"]["goal"]["value"], 45);
}
