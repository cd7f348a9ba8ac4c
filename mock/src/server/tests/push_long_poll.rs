//! Answers that wait for news.
//!
//! # Source
//! RFC 6202 section 2.1; RFC 9110 section 13.1.2 and section 15.4.5.

use super::common::{Bench, Client};

const TAGS: &str = r#"{ form = "long-poll", period-ms = 10, timeout-s = 3600 }"#;
const NUMBERS: &str = r#"{ form = "long-poll", period-ms = 10, timeout-s = 3600, since = "after", id-header = "State-Number" }"#;

/// Asks and waits until the host has the request.
async fn wait(bench: &Bench, asked: usize, request: &str) -> Client {
    let mut client = bench.connect().await;
    client.send(request).await;
    bench.notes.wait_for("RequestReceived", asked).await;
    client
}

#[tokio::test]
async fn who_has_nothing_is_answered_at_once_with_a_tag() {
    let bench = Bench::pushing(TAGS).await;
    let reply = bench.ask("GET /printer/events").await;
    assert_eq!(reply.status, 200);
    assert_eq!(reply.body, bench.ask("GET /printer").await.body);
    assert_eq!(reply.field("content-type"), Some("application/json"));
    assert!(reply.field("etag").is_some(), "{}", reply.head);
}

#[tokio::test]
async fn who_has_the_present_body_waits_until_it_changes() {
    let bench = Bench::pushing(TAGS).await;
    let first = bench.ask("GET /printer/events").await;
    let tag = first.field("etag").unwrap();
    let request = format!("GET /printer/events\nIf-None-Match: {tag}");
    let mut client = wait(&bench, 2, &request).await;
    assert_eq!(
        bench.notes.count(|event| event.starts_with("AnswerSent")),
        1,
        "it was answered at once"
    );
    bench.step();
    let reply = client.reply(true).await;
    assert_eq!(reply.status, 200);
    assert_ne!(reply.body, first.body);
    assert_ne!(reply.field("etag"), first.field("etag"));
    // The tag it has now is an old one.
    assert_eq!(bench.ask(&request).await.body, reply.body);
}

#[tokio::test]
async fn who_has_the_present_number_waits_and_who_has_another_does_not() {
    let bench = Bench::pushing(NUMBERS).await;
    let first = bench.ask("GET /printer/events").await;
    assert_eq!(first.field("state-number"), Some("72000"));
    let mut client = wait(&bench, 2, "GET /printer/events?after=72000").await;
    bench.step();
    let reply = client.reply(true).await;
    assert_eq!(reply.status, 200);
    assert_eq!(reply.field("state-number"), Some("72010"));
    for query in ["after=72000", "after=1", "x=1&after=none", "before=72010"] {
        let again = bench.ask(&format!("GET /printer/events?{query}")).await;
        assert_eq!(again.body, reply.body, "{query}");
    }
}

#[tokio::test(start_paused = true)]
async fn without_news_the_answer_at_the_timeout_is_the_dialects() {
    for (key, status) in [
        ("", 204),
        ("at-timeout = 204", 204),
        ("at-timeout = 304", 304),
        ("at-timeout = 200", 200),
    ] {
        let push = format!(
            r#"{{ form = "long-poll", period-ms = 200, timeout-s = 7{}{key} }}"#,
            if key.is_empty() { "" } else { ", " }
        );
        let bench = Bench::pushing(&push).await;
        let mut client = bench.connect().await;
        let before = tokio::time::Instant::now();
        client
            .send("GET /printer/events\nIf-None-Match: *\nConnection: close")
            .await;
        let (bytes, end) = client.rest_patiently().await;
        end.unwrap();
        assert_eq!(before.elapsed().as_secs(), 7, "{key}");
        let text = String::from_utf8(bytes).unwrap();
        assert!(text.starts_with(&format!("HTTP/1.1 {status} ")), "{text}");
        let (head, body) = text.split_once("\r\n\r\n").unwrap();
        assert_eq!(!body.is_empty(), status == 200, "{text}");
        assert_eq!(head.contains("\netag: "), status != 204, "{text}");
        assert_eq!(head.contains("\ncontent-type: "), status == 200, "{text}");
    }
}

#[tokio::test]
async fn a_client_that_leaves_while_it_waits_leaves_nothing_behind() {
    let bench = Bench::pushing(TAGS).await;
    let client = wait(&bench, 1, "GET /printer/events\nIf-None-Match: *").await;
    drop(client);
    bench.notes.wait_for("ConnectionClosed", 1).await;
    assert_eq!(
        bench.notes.count(|event| event.starts_with("AnswerSent")),
        0
    );
}

#[tokio::test]
async fn a_host_that_stops_answers_those_who_wait() {
    let bench = Bench::pushing(TAGS).await;
    let mut client = wait(&bench, 1, "GET /printer/events\nIf-None-Match: *").await;
    let stopped = tokio::spawn(bench.host.stop());
    assert_eq!(client.reply(true).await.status, 204);
    stopped.await.unwrap();
}

#[tokio::test]
async fn head_is_answered_at_once_and_without_a_body() {
    let bench = Bench::pushing(TAGS).await;
    let mut client = bench.connect().await;
    let full = client.ask("GET /printer/events").await;
    let head = client.ask("HEAD /printer/events").await;
    assert_eq!(head.status, 200);
    assert_eq!(head.field("etag"), full.field("etag"));
    assert_eq!(head.field("content-length"), full.field("content-length"));
    assert_eq!(client.ask("GET /job").await.status, 200);
}
