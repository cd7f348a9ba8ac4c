//! Faults of answers that wait.

use std::io::ErrorKind;
use std::time::Duration;

use super::common::{Bench, Client};
use crate::fault::{Fault, Position};

const POLL: &str = r#"{ form = "long-poll", period-ms = 500, timeout-s = 7 }"#;

/// Asks for news, and waits until the host has the request.
async fn waiting(bench: &Bench) -> Client {
    let mut client = bench.connect().await;
    client.send("GET /printer/events\nIf-None-Match: *").await;
    bench.notes.wait_for("RequestReceived", 1).await;
    client
}

#[tokio::test(start_paused = true)]
async fn in_silence_the_answer_is_held_beyond_its_time_and_given_after_it() {
    for raised_before in [true, false] {
        let bench = Bench::pushing(POLL).await;
        let early = raised_before.then(|| bench.host.faults().raise(Fault::SilentStream));
        let mut client = waiting(&bench).await;
        let guard = early.unwrap_or_else(|| bench.host.faults().raise(Fault::SilentStream));
        bench.step();
        assert!(client.is_quiet(Duration::from_secs(300)).await);
        drop(guard);
        assert_eq!(client.reply(true).await.status, 204);
    }
}

#[tokio::test(start_paused = true)]
async fn a_host_that_stops_answers_in_silence_too() {
    let bench = Bench::pushing(POLL).await;
    let _guard = bench.host.faults().raise(Fault::SilentStream);
    let mut client = waiting(&bench).await;
    assert!(client.is_quiet(Duration::from_secs(60)).await);
    let stopped = tokio::spawn(bench.host.stop());
    assert_eq!(client.reply(true).await.status, 204);
    stopped.await.unwrap();
}

#[tokio::test]
async fn an_ended_stream_is_an_answer_as_when_its_time_is_over() {
    let bench = Bench::pushing(&POLL.replace("= 7", "= 3600")).await;
    let mut client = waiting(&bench).await;
    let _guard = bench
        .host
        .faults()
        .raise(Fault::StreamClosed { code: None });
    assert_eq!(client.reply(true).await.status, 204);
    let again = client.ask("GET /printer/events\nIf-None-Match: *").await;
    assert_eq!(again.status, 204);
}

#[tokio::test(start_paused = true)]
async fn an_answer_that_waits_is_frozen_as_any_other() {
    let bench = Bench::pushing(&POLL.replace("= 7", "= 3600")).await;
    let first = bench.ask("GET /printer/events").await;
    let tag = first.field("etag").unwrap();
    let mut client = bench.connect().await;
    client
        .send(&format!("GET /printer/events\nIf-None-Match: {tag}"))
        .await;
    bench.notes.wait_for("RequestReceived", 2).await;
    let guard = bench.host.faults().raise(Fault::Frozen);
    assert!(client.is_quiet(Duration::from_secs(1)).await);
    bench.step();
    assert!(client.is_quiet(Duration::from_secs(60)).await);
    drop(guard);
    let reply = client.reply(true).await;
    assert_eq!(reply.status, 200);
    assert_ne!(reply.body, first.body);
}

#[tokio::test]
async fn a_reset_raised_meanwhile_comes_at_once_or_at_its_place_in_the_answer() {
    for (at, sent) in [
        (Position::Start, &b""[..]),
        (Position::Byte(12), b"HTTP/1.1 204"),
    ] {
        let bench = Bench::pushing(&POLL.replace("= 7", "= 3600")).await;
        let mut client = waiting(&bench).await;
        let _reset = bench.host.faults().raise(Fault::reset_at(at));
        let closed = Fault::StreamClosed { code: None };
        let _closed = (at != Position::Start).then(|| bench.host.faults().raise(closed));
        let (bytes, end) = client.rest().await;
        assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
        assert_eq!(bytes, sent);
    }
}

#[tokio::test]
async fn an_answer_is_no_message_that_could_be_missed() {
    let bench = Bench::pushing(POLL).await;
    let _guard = bench.host.faults().raise(Fault::MissedMessages);
    assert_eq!(bench.ask("GET /printer/events").await.status, 200);
    assert_eq!(bench.host.faults().raised()[0].happened, 0);
}
