//! A host whose program restarts while a print goes on.

use std::io::ErrorKind;
use std::sync::Arc;
use std::time::Duration;

use super::common::Bench;
use crate::scenario::Scenario;
use crate::sim::{Phase, Simulation, VirtualTime};

/// Gives a host that is away from 20 min on for 40 s, in the middle of a print.
async fn bench() -> Bench {
    Bench::with(|options| {
        let scenario = Scenario::builtin("host-restart").unwrap().unwrap();
        options.simulation = Simulation::new(Arc::new(scenario), 1);
    })
    .await
}

fn at(minutes: u64, seconds: u64) -> VirtualTime {
    VirtualTime::new(Duration::from_secs(60 * minutes + seconds))
}

#[tokio::test]
async fn a_command_sent_while_the_host_is_away_is_neither_answered_nor_carried_out() {
    let bench = bench().await;
    bench.host.clock().jump_to(at(20, 10)).unwrap();
    let mut client = bench.connect().await;
    client.send("POST /job/pause").await;
    let (bytes, end) = client.rest().await;
    assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
    assert!(bytes.is_empty());
    bench.host.clock().jump_to(at(21, 0)).unwrap();
    assert_eq!(bench.host.truth().phase, Phase::Printing);
    assert_eq!(bench.ask("POST /job/pause").await.status, 200);
    assert_eq!(bench.host.truth().phase, Phase::Paused);
}

#[tokio::test]
async fn what_was_not_answered_is_not_told_as_answered() {
    let bench = bench().await;
    bench.host.clock().jump_to(at(20, 10)).unwrap();
    let mut client = bench.connect().await;
    client.send("GET /printer").await;
    client.rest().await.1.unwrap_err();
    assert_eq!(
        bench
            .notes
            .count(|event| event.starts_with("RequestReceived")),
        1
    );
    assert_eq!(
        bench.notes.count(|event| event.starts_with("AnswerSent")),
        0
    );
}
