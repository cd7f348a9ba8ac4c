//! Requests that are too much, or not HTTP.

use super::common::Bench;
use crate::server::{MAX_BODY_BYTES, READ_TIMEOUT};

#[tokio::test]
async fn a_body_over_the_limit_is_413_whether_announced_or_not_rfc_9110_s15_5_14() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    let announced = MAX_BODY_BYTES + 1;
    client
        .send(&format!("POST /job/pause\nContent-Length: {announced}"))
        .await;
    let reply = client.reply(true).await;
    assert_eq!(reply.status, 413);
    assert_eq!(
        reply.field("content-type"),
        Some("application/problem+json")
    );

    let mut client = bench.connect().await;
    client
        .send("POST /job/pause\nTransfer-Encoding: chunked")
        .await;
    let chunk = "x".repeat(MAX_BODY_BYTES + 1);
    client
        .raw(format!("{:x}\r\n{chunk}\r\n", chunk.len()).as_bytes())
        .await;
    assert_eq!(client.reply(true).await.status, 413);
    assert_eq!(bench.host.truth().phase, crate::sim::Phase::Printing);
}

#[tokio::test]
async fn a_body_at_the_limit_is_read() {
    let bench = Bench::printing().await;
    let padding = " ".repeat(MAX_BODY_BYTES - 24);
    let body = format!("{{\"target-celsius\": 80.0}}{padding}");
    assert_eq!(body.len(), MAX_BODY_BYTES);
    let reply = bench
        .ask(&format!("PUT /heaters/platform/target\n\n{body}"))
        .await;
    assert_eq!(reply.status, 200, "{reply:?}");
}

#[tokio::test]
async fn a_request_needs_exactly_one_host_field_rfc_9112_s3_2() {
    let bench = Bench::printing().await;
    for (fields, status) in [
        ("", 400),
        ("Host: a\r\nHost: b\r\n", 400),
        ("Host: a\r\n", 200),
    ] {
        let mut client = bench.connect().await;
        client
            .raw(format!("GET /printer HTTP/1.1\r\n{fields}\r\n").as_bytes())
            .await;
        assert_eq!(client.reply(true).await.status, status, "{fields:?}");
    }
    let mut client = bench.connect().await;
    client.raw(b"GET /printer HTTP/1.0\r\n\r\n").await;
    assert_eq!(client.reply(true).await.status, 200);
}

#[tokio::test]
async fn bytes_that_are_not_http_are_400() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    client.raw(b"\x16\x03\x01 hello\r\n\r\n").await;
    assert_eq!(client.reply(true).await.status, 400);
}

#[tokio::test(start_paused = true)]
async fn a_request_that_never_ends_is_given_up() {
    let bench = Bench::printing().await;
    let mut head = bench.connect().await;
    head.raw(b"GET /printer HTTP/1.1\r\nHost:").await;
    let mut body = bench.connect().await;
    body.send("POST /job/pause\nContent-Length: 10").await;
    // The paused clock of the runtime jumps to the next deadline when everybody waits.
    let (bytes, _) = head.rest_patiently().await;
    assert!(bytes.is_empty(), "{bytes:?}");
    let (bytes, _) = body.rest_patiently().await;
    assert!(bytes.starts_with(b"HTTP/1.1 408 "), "{bytes:?}");
}

#[tokio::test(start_paused = true)]
async fn an_idle_connection_stays_open() {
    let bench = Bench::printing().await;
    let mut silent = bench.connect().await;
    let mut client = bench.connect().await;
    assert_eq!(client.ask("GET /job").await.status, 200);
    tokio::time::advance(10 * READ_TIMEOUT).await;
    assert_eq!(client.ask("GET /job").await.status, 200);
    assert_eq!(silent.ask("GET /job").await.status, 200);
}
