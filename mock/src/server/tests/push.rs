//! Streams of events.
//!
//! # Source
//! WHATWG HTML, "Server-sent events".

use std::time::Duration;

use super::common::Bench;

#[tokio::test]
async fn a_stream_begins_with_the_reconnection_time_and_the_present_state() {
    let bench = Bench::printing().await;
    let present = bench.ask("GET /printer").await.body;
    let mut client = bench.connect().await;
    client.send("GET /printer/events").await;
    let head = client.until(b"\r\n\r\n").await;
    assert!(head.starts_with("HTTP/1.1 200 OK\r\n"), "{head}");
    assert!(
        head.contains("content-type: text/event-stream\r\n"),
        "{head}"
    );
    assert!(head.contains("cache-control: no-cache\r\n"), "{head}");
    let retry = client.until(b"\n\n").await;
    assert!(retry.ends_with("\r\nretry: 2000\n\n"), "{retry}");
    let event = client.until(b"\n\n").await;
    // Two hours have 72000 ticks of 0.1 s.
    let expected = format!("id: 72000\ndata: {present}\n\n");
    assert!(event.ends_with(&expected), "{event}\n{expected}");
}

#[tokio::test]
async fn an_event_comes_when_the_body_has_changed() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    client.send("GET /printer/events").await;
    client.until(b"id: 72000\n").await;
    bench.host.clock().step(Duration::from_secs(600));
    client.until(b"id: 78000\n").await;
}

#[tokio::test(start_paused = true)]
async fn while_nothing_changes_only_comments_come() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    client.send("GET /printer/events").await;
    client.until(b"id: 72000\n").await;
    let quiet = client.until_patiently(b": still here\n\n").await;
    assert!(!quiet.contains("id:"), "{quiet}");
    // 15 s of silence at 2 looks a second.
    let again = client.until_patiently(b": still here\n\n").await;
    assert!(!again.contains("data:"), "{again}");
}

#[tokio::test]
async fn head_of_a_stream_is_its_head_only() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    let reply = client.ask("HEAD /printer/events").await;
    assert_eq!(reply.field("content-type"), Some("text/event-stream"));
    assert_eq!(reply.field("content-length"), None, "GET has none either");
    assert_eq!(client.ask("GET /job").await.status, 200);
}
