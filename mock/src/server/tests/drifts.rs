//! Drifts as a client meets them.

use super::common::Bench;
use crate::drift::{AddMember, Change, Drift, DriftClass, ReplaceByNull};

fn drift(pointer: &str, change: impl Into<Change>) -> Drift {
    Drift {
        name: "sample".to_owned(),
        pointer: pointer.to_owned(),
        change: change.into(),
        class: DriftClass::Breaking,
    }
}

#[tokio::test]
async fn a_drift_shows_at_once_and_goes_with_its_guard() {
    let bench = Bench::printing().await;
    let before = bench.ask("GET /printer").await;
    let guard = bench
        .host
        .drifts()
        .raise(drift("/job/progress-percent", ReplaceByNull));
    let during = bench.ask("GET /printer").await;
    assert!(during.json()["job"]["progress-percent"].is_null());
    assert_ne!(during.field("etag"), before.field("etag"));
    drop(guard);
    assert_eq!(bench.ask("GET /printer").await.body, before.body);
}

#[tokio::test]
async fn a_drift_of_one_body_leaves_the_others_and_the_problems_alone() {
    let bench = Bench::printing().await;
    let job = bench.ask("GET /job").await;
    let missing = bench.ask("GET /none").await;
    let extra = AddMember {
        member: "extra".to_owned(),
        value: serde_json::json!({"deep": [true]}),
    };
    let _guard = bench.host.drifts().raise(drift("/heaters", extra));
    assert_eq!(
        bench.ask("GET /printer").await.json()["heaters"]["extra"]["deep"][0],
        true
    );
    assert_eq!(bench.ask("GET /job").await.body, job.body);
    assert_eq!(bench.ask("GET /none").await.body, missing.body);
}
