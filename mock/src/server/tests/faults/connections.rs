//! What happens to connections.

use std::io::ErrorKind;
use std::time::Duration;

use serde_json::json;

use super::all;
use crate::server::tests::common::Bench;

#[tokio::test]
async fn a_silent_host_accepts_and_says_nothing_until_it_is_over() {
    let bench = Bench::printing().await;
    let mut open = bench.connect().await;
    assert_eq!(open.ask("GET /job").await.status, 200);
    let guard = bench.raise(json!("silent"));
    let mut client = bench.connect().await;
    client.send("GET /printer").await;
    open.send("GET /printer").await;
    bench.notes.wait_for("FaultHappened", 2).await;
    assert!(client.is_silent());
    assert!(open.is_silent());
    drop(guard);
    // What was not heard is not answered afterwards.
    let (bytes, _) = client.rest().await;
    assert!(bytes.is_empty());
    assert_eq!(bench.ask("GET /printer").await.status, 200);
}

#[tokio::test]
async fn data_comes_before_anything_was_asked() {
    let bench = Bench::printing().await;
    let guard = bench.raise(json!("unasked-data"));
    let mut client = bench.connect().await;
    let head = client.until(b"\r\n\r\n").await;
    assert!(
        head.starts_with("HTTP/1.1 408 Request Timeout\r\n"),
        "{head}"
    );
    // The host has not closed: that is the client's to find out.
    assert_eq!(client.ask("GET /job").await.status, 200);
    drop(guard);
    assert_eq!(bench.ask("GET /job").await.status, 200);
}

#[tokio::test(start_paused = true)]
async fn an_idle_connection_is_closed_after_its_time() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    client.send("GET /job").await;
    client.until_patiently(b"}").await;
    let begun = tokio::time::Instant::now();
    let _guard = bench.raise(json!({ "close-idle": { "after": "7s" } }));
    let (_, end) = client.rest_patiently().await;
    end.unwrap();
    let spent = begun.elapsed();
    let bounds = Duration::from_secs(6)..=Duration::from_millis(7100);
    assert!(bounds.contains(&spent), "{spent:?}");
}

#[tokio::test]
async fn without_patience_each_connection_is_closed_behind_its_answer_which_promised_more() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!("close-idle"));
    let mut client = bench.connect().await;
    let reply = client.ask("GET /job").await;
    assert_eq!((reply.status, reply.field("connection")), (200, None));
    let (rest, end) = client.rest().await;
    assert!(rest.is_empty());
    end.unwrap();
}

#[tokio::test]
async fn the_second_request_of_a_connection_is_answered_with_its_end() {
    let bench = Bench::printing().await;
    for reset in [false, true] {
        let _guard = bench.raise(json!({ "close-on-reuse": { "reset": reset } }));
        let mut client = bench.connect().await;
        assert_eq!(client.ask("GET /job").await.status, 200);
        let (bytes, end) = all(&mut client).await;
        assert_eq!(bytes, "");
        match reset {
            true => assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset),
            false => end.unwrap(),
        }
    }
}

#[tokio::test]
async fn a_command_on_a_reused_connection_that_ends_is_carried_out_all_the_same() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!("close-on-reuse"));
    let mut client = bench.connect().await;
    assert_eq!(client.ask("GET /job").await.status, 200);
    client.send("POST /job/pause").await;
    let (bytes, _) = client.rest().await;
    assert!(bytes.is_empty());
    // Whether it was is what a client cannot know, and why it must not simply send it again
    // (RFC 9110 section 9.2.2).
    assert_eq!(bench.host.truth().phase, crate::sim::Phase::Paused);
}
