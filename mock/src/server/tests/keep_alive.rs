//! How long a connection is kept: RFC 9112 section 9.3 and section 9.6.

use std::time::Duration;

use super::common::{Bench, Client};

/// Reads what is left and checks that the host has closed in an orderly way.
async fn assert_closed(client: &mut Client) {
    let (rest, end) = client.rest().await;
    assert!(rest.is_empty() && end.is_ok(), "{rest:?} {end:?}");
}

/// Ends a test that would wait for ever; the minute is one of the paused clock.
async fn within_a_minute<T>(waiting: impl Future<Output = T>) -> T {
    let minute = Duration::from_secs(60);
    tokio::time::timeout(minute, waiting)
        .await
        .expect("the connection is kept")
}

#[tokio::test]
async fn a_host_of_http_1_0_says_so_and_closes_after_each_answer() {
    let bench = Bench::speaking("[http]\nversion = \"1.0\"").await;
    for (request, line) in [
        ("GET /printer", "HTTP/1.0 200 OK\r\n"),
        ("GET /none", "HTTP/1.0 404 Not Found\r\n"),
        ("OPTIONS /job", "HTTP/1.0 204 No Content\r\n"),
    ] {
        let mut client = bench.connect().await;
        let reply = client.ask(request).await;
        assert!(reply.head.starts_with(line), "{}", reply.head);
        assert_eq!(reply.field("connection"), Some("close"));
        assert_closed(&mut client).await;
    }
}

#[tokio::test]
async fn a_stream_of_http_1_0_ends_with_its_connection_and_has_no_chunks() {
    let bench = Bench::speaking("[http]\nversion = \"1.0\"").await;
    let mut client = bench.connect().await;
    client.send("GET /printer/events").await;
    let head = client.until(b"\r\n\r\n").await;
    assert!(head.starts_with("HTTP/1.0 200 OK\r\n"), "{head}");
    assert!(!head.contains("transfer-encoding"), "{head}");
    assert_eq!(client.until(b"\n\n").await, "retry: 2000\n\n");
}

#[tokio::test]
async fn a_host_that_keeps_no_connection_says_close_and_does_so() {
    let bench = Bench::speaking("[http]\nkeep-alive = false").await;
    let mut client = bench.connect().await;
    let reply = client.ask("GET /printer").await;
    assert!(reply.head.starts_with("HTTP/1.1 200 OK\r\n"));
    assert_eq!(reply.field("connection"), Some("close"));
    assert_closed(&mut client).await;
    let mut old = bench.connect().await;
    old.raw(b"GET /job HTTP/1.0\r\nConnection: keep-alive\r\n\r\n")
        .await;
    assert_eq!(old.reply(true).await.field("connection"), Some("close"));
    assert_closed(&mut old).await;
}

#[tokio::test]
async fn the_last_of_so_many_answers_says_close() {
    let bench = Bench::speaking("[http]\nkeep-alive-requests = 3").await;
    let mut client = bench.connect().await;
    // All at once: what comes after the last answer is not served (RFC 9112 section 9.6).
    for _ in 0..4 {
        client.send("GET /job").await;
    }
    for nth in 1..=3 {
        let reply = client.reply(true).await;
        let close = (nth == 3).then_some("close");
        assert_eq!(reply.field("connection"), close, "answer {nth}");
    }
    let (rest, _) = client.rest().await;
    assert!(rest.is_empty(), "{rest:?}");
    let answers = bench.notes.count(|event| event.starts_with("AnswerSent"));
    assert_eq!(answers, 3);
}

#[tokio::test(start_paused = true)]
async fn a_connection_closes_after_so_long_a_silence_and_not_before() {
    let bench = Bench::speaking("[http]\nkeep-alive-idle-s = 5").await;
    let mut client = bench.connect().await;
    for _ in 0..3 {
        assert_eq!(client.ask("GET /job").await.status, 200);
        tokio::time::advance(Duration::from_millis(4900)).await;
    }
    assert_eq!(client.ask("GET /job").await.status, 200);
    // The paused clock of the runtime jumps to the next deadline when everybody waits.
    let begun = tokio::time::Instant::now();
    let (rest, end) = within_a_minute(client.rest_patiently()).await;
    assert!(rest.is_empty() && end.is_ok(), "{rest:?} {end:?}");
    let silent = begun.elapsed();
    assert!(
        (Duration::from_secs(5)..Duration::from_millis(5100)).contains(&silent),
        "{silent:?}"
    );
    let mut unused = bench.connect().await;
    let (rest, end) = within_a_minute(unused.rest_patiently()).await;
    assert!(rest.is_empty() && end.is_ok(), "{rest:?} {end:?}");
}

#[tokio::test(start_paused = true)]
async fn an_exchange_that_takes_longer_than_the_silence_allowed_is_not_cut() {
    let bench = Bench::speaking("[http]\nkeep-alive-idle-s = 1").await;
    let mut slow = bench.connect().await;
    slow.send("PUT /heaters/platform/target\nContent-Length: 22")
        .await;
    bench.notes.wait_for("ConnectionOpened", 1).await;
    let mut stream = bench.connect().await;
    stream.send("GET /printer/events").await;
    stream.until_patiently(b"data: ").await;
    // The stream is silent for 15 s before its comment.
    stream.until_patiently(b": still here\n\n").await;
    slow.raw(b"{\"target-celsius\": 60}").await;
    assert_eq!(slow.reply(true).await.status, 200);
}
