//! What faults happen to.

use std::time::Duration;

use serde_json::json;

use crate::server::tests::common::Bench;

#[tokio::test]
async fn only_the_route_asked_for_meets_the_fault() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({
        "fault": { "status": { "code": 500 } }, "scope": { "route": "/heaters/{name}" },
    }));
    assert_eq!(bench.ask("GET /heaters/extruder").await.status, 500);
    assert_eq!(bench.ask("GET /heaters/platform?x").await.status, 500);
    assert_eq!(bench.ask("GET /printer").await.status, 200);
}

#[tokio::test]
async fn only_the_connection_asked_for_meets_the_fault() {
    let bench = Bench::printing().await;
    let mut first = bench.connect().await;
    assert_eq!(first.ask("GET /job").await.status, 200);
    let mut second = bench.connect().await;
    assert_eq!(second.ask("GET /job").await.status, 200);
    let _guard = bench.raise(json!({
        "fault": { "status": { "code": 500 } }, "scope": { "connection": 2 },
    }));
    assert_eq!(first.ask("GET /job").await.status, 200);
    assert_eq!(second.ask("GET /job").await.status, 500);
}

#[tokio::test]
async fn the_next_so_many_meet_the_fault_and_then_it_is_over() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({
        "fault": { "status": { "code": 500 } }, "scope": { "skip": 1, "times": 2 },
    }));
    let mut met = Vec::new();
    for _ in 0..5 {
        met.push(bench.ask("GET /job").await.status);
    }
    assert_eq!(met, [200, 500, 500, 200, 200]);
}

#[tokio::test]
async fn a_window_is_open_for_its_virtual_time_and_not_before() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({
        "fault": { "status": { "code": 500 } }, "scope": { "after": "10s", "lasts": "5s" },
    }));
    let mut met = Vec::new();
    for _ in 0..17 {
        met.push(bench.ask("GET /job").await.status == 500);
        bench.host.clock().step(Duration::from_secs(1));
    }
    let open: Vec<usize> = (0..17).filter(|second| met[*second]).collect();
    assert_eq!(open, [10, 11, 12, 13, 14]);
}

#[tokio::test]
async fn a_share_of_the_requests_meets_the_fault_and_the_same_ones_in_the_next_run() {
    let mut runs = Vec::new();
    for _ in 0..2 {
        let bench = Bench::printing().await;
        let _guard = bench.raise(json!({
            "fault": { "status": { "code": 500 } }, "scope": { "probability": 0.5, "seed": 7 },
        }));
        let mut client = bench.connect().await;
        let mut met = String::new();
        for _ in 0..60 {
            let met_it = client.ask("GET /job").await.status == 500;
            met.push(if met_it { 'x' } else { '.' });
        }
        runs.push(met);
    }
    assert_eq!(runs[0], runs[1]);
    let count = runs[0].matches('x').count();
    assert!((10..50).contains(&count), "{}", runs[0]);
}

#[tokio::test]
async fn nothing_is_left_for_the_next_host() {
    let bench = Bench::printing().await;
    let guard = bench.raise(json!({ "status": { "code": 500 } }));
    bench.host.stop().await;
    let next = Bench::printing().await;
    assert!(next.host.faults().raised().is_empty());
    assert_eq!(next.ask("GET /job").await.status, 200);
    drop(guard);
}
