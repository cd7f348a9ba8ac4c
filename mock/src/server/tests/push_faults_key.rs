//! Keys that are revoked while a stream is under way.
//!
//! # Source
//! RFC 6455 section 7.4.1 (1008); RFC 6750 section 3.1 (401).

use std::sync::Arc;

use super::common::{Bench, Client, PRINTING, pushing};
use super::push_websocket::opening;
use crate::fault::Fault;
use crate::scenario::Scenario;
use crate::sim::Simulation;

const EVENTS: &str = r#"{ form = "server-sent-events", period-ms = 10 }"#;
const WEBSOCKET: &str = r#"{ form = "websocket", period-ms = 10 }"#;
const LONG_POLL: &str = r#"{ form = "long-poll", period-ms = 10, timeout-s = 3600 }"#;

const KEY: &str = "\nAuthorization: Bearer k";

/// Starts a host with the key `k` that is revoked by its scenario in the middle of the print.
async fn bench(push: &str) -> Bench {
    Bench::with(|options| {
        let scenario = Scenario::builtin("key-revoked").unwrap().unwrap();
        options.simulation = Simulation::new(Arc::new(scenario), 1);
        options.dialect = pushing(push);
        options.key = Some("k".to_owned());
    })
    .await
}

/// Lets the key be no longer good: by a fault, or by what happens in the scenario.
fn revoke(bench: &Bench, by_fault: bool) -> Option<crate::fault::FaultGuard> {
    if by_fault {
        return Some(bench.host.faults().raise(Fault::KeyRevoked));
    }
    assert!(bench.host.truth().printer.key_is_good);
    bench.host.clock().jump_to(PRINTING).unwrap();
    assert!(!bench.host.truth().printer.key_is_good);
    None
}

async fn asked(bench: &Bench, request: &str, head: &str) -> Client {
    let mut client = bench.connect().await;
    client.send(request).await;
    let answer = client.until(b"\r\n\r\n").await;
    assert!(answer.starts_with(head), "{answer}");
    client
}

#[tokio::test]
async fn an_event_stream_ends_in_order_and_its_client_is_refused_when_it_comes_back() {
    let request = format!("GET /printer/events{KEY}");
    for by_fault in [true, false] {
        let bench = bench(EVENTS).await;
        let mut client = asked(&bench, &request, "HTTP/1.1 200 ").await;
        for _ in ["the reconnection time", "the present state"] {
            client.until(b"\n\n\r\n").await;
        }
        let _guard = revoke(&bench, by_fault);
        assert_eq!(client.take(5).await, b"0\r\n\r\n");
        assert_eq!(client.ask(&request).await.status, 401);
    }
}

#[tokio::test]
async fn a_websocket_is_closed_with_1008() {
    let request = opening(KEY);
    for by_fault in [true, false] {
        let bench = bench(WEBSOCKET).await;
        let mut client = asked(&bench, &request, "HTTP/1.1 101 ").await;
        while client.take(1).await != b"}" {}
        let _guard = revoke(&bench, by_fault);
        let (bytes, end) = client.rest().await;
        end.unwrap();
        let close = [
            &[0x88, 2 + 25, 0x03, 0xf0][..],
            b"the key is no longer good",
        ]
        .concat();
        assert!(bytes.ends_with(&close), "{bytes:?}");
        assert_eq!(bench.ask(&request).await.status, 401);
    }
}

#[tokio::test]
async fn an_answer_that_waits_is_the_dialects_refusal() {
    for by_fault in [true, false] {
        let bench = bench(LONG_POLL).await;
        let mut client = bench.connect().await;
        client
            .send(&format!("GET /printer/events\nIf-None-Match: *{KEY}"))
            .await;
        bench.notes.wait_for("RequestReceived", 1).await;
        let _guard = revoke(&bench, by_fault);
        let reply = client.reply(true).await;
        assert_eq!(reply.status, 401);
        let challenge = reply.field("www-authenticate").unwrap();
        assert!(challenge.contains("error=\"invalid_token\""), "{challenge}");
        assert_eq!(reply.json()["status"], 401);
    }
}

#[tokio::test]
async fn where_no_key_is_asked_for_nothing_ends() {
    let bench = Bench::pushing(EVENTS).await;
    let mut client = asked(&bench, "GET /printer/events", "HTTP/1.1 200 ").await;
    client.until(b"id: 72000\n").await;
    let _guard = bench.host.faults().raise(Fault::KeyRevoked);
    bench.step();
    client.until(b"id: 72010\n").await;
}
