//! Pushes while the host's program restarts.

use std::io::ErrorKind;
use std::sync::Arc;
use std::time::Duration;

use super::common::{Bench, Client, PATIENCE, pushing};
use super::push_stream::{event, follow};
use crate::scenario::Scenario;
use crate::sim::{Simulation, VirtualTime};

const QUICK: &str = r#"{ form = "server-sent-events", period-ms = 10 }"#;

/// Gives a host that is away from 20 min on for 40 s; it is at 19 min now.
pub(super) async fn bench(push: &str) -> Bench {
    let bench = Bench::with(|options| {
        let scenario = Scenario::builtin("host-restart").unwrap().unwrap();
        options.simulation = Simulation::new(Arc::new(scenario), 1);
        options.dialect = pushing(push);
    })
    .await;
    bench.host.clock().jump_to(at(19, 0)).unwrap();
    bench
}

pub(super) fn at(minutes: u64, seconds: u64) -> VirtualTime {
    VirtualTime::new(Duration::from_secs(60 * minutes + seconds))
}

/// Reads to the end. A stream that is not ended sends comments, so patience with each piece is not
/// enough.
async fn ended(client: &mut Client) -> (Vec<u8>, std::io::Result<()>) {
    tokio::time::timeout(PATIENCE, client.rest())
        .await
        .expect("the stream goes on")
}

#[tokio::test]
async fn a_stream_is_reset_when_the_host_goes_away() {
    let bench = bench(QUICK).await;
    let mut client = follow(&bench, "").await;
    event(&mut client).await;
    bench.host.clock().jump_to(at(20, 10)).unwrap();
    let (bytes, end) = ended(&mut client).await;
    assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
    assert!(!bytes.ends_with(b"0\r\n\r\n"), "{bytes:?}");
    bench.notes.wait_for("ConnectionReset", 1).await;
}

#[tokio::test]
async fn a_stream_is_reset_also_by_a_restart_between_two_looks() {
    let bench = bench(QUICK).await;
    let mut client = follow(&bench, "").await;
    let before = event(&mut client).await;
    bench.host.clock().jump_to(at(22, 0)).unwrap();
    let (_, end) = ended(&mut client).await;
    assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
    // It remembers nothing from before: the present state, and no replay.
    let mut back = follow(&bench, &format!("\nLast-Event-ID: {}", before.id)).await;
    let after = event(&mut back).await;
    assert_eq!(after.data, bench.ask("GET /printer").await.body);
    assert!(after.id > before.id);
}

#[tokio::test]
async fn an_answer_that_waits_is_not_given_when_the_host_goes_away() {
    let bench = bench(r#"{ form = "long-poll", period-ms = 10 }"#).await;
    let mut client = bench.connect().await;
    client.send("GET /printer/events\nIf-None-Match: *").await;
    bench.notes.wait_for("RequestReceived", 1).await;
    bench.host.clock().jump_to(at(20, 10)).unwrap();
    let (bytes, end) = ended(&mut client).await;
    assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
    assert!(bytes.is_empty(), "{bytes:?}");
}
