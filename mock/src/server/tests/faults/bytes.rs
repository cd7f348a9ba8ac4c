//! What happens to the bytes of answers.

use std::io::ErrorKind;
use std::time::Duration;

use serde_json::json;
use tokio::time::Instant;

use super::{all, undated};
use crate::server::tests::common::Bench;

fn head_of(answer: &str) -> usize {
    answer.find("\r\n\r\n").unwrap() + 4
}

#[tokio::test]
async fn a_reset_and_a_close_come_at_their_place_and_nothing_after_it() {
    let bench = Bench::printing().await;
    let whole = {
        let mut client = bench.connect().await;
        let reply = client.ask("GET /printer").await;
        format!("{}{}", reply.head, reply.body)
    };
    let head = head_of(&whole);
    for (at, count) in [
        (json!("start"), 0),
        (json!({ "byte": 9 }), 9),
        (json!({ "byte": head - 3 }), head - 3),
        (json!("head-end"), head),
        (json!({ "body-byte": 12 }), head + 12),
        (json!({ "byte": whole.len() - 1 }), whole.len() - 1),
    ] {
        for kind in ["reset", "close"] {
            let _guard = bench.raise(json!({ kind: { "at": at } }));
            let (bytes, end) = all(&mut bench.connect().await).await;
            assert_eq!(bytes.len(), count, "{kind} at {at}");
            match kind {
                "reset" => assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset),
                _ => end.unwrap(),
            }
        }
    }
}

#[tokio::test]
async fn a_close_in_the_body_leaves_a_length_that_is_not_reached() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({ "close": { "at": { "body-byte": 12 } } }));
    let (bytes, end) = all(&mut bench.connect().await).await;
    end.unwrap();
    let length: usize = bytes
        .lines()
        .find_map(|line| line.strip_prefix("content-length: "))
        .unwrap()
        .parse()
        .unwrap();
    assert_eq!(bytes.len() - head_of(&bytes), 12);
    assert!(length > 12);
}

#[tokio::test]
async fn a_stalled_answer_keeps_its_connection_open_until_the_client_leaves() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({
        "fault": { "stall": { "at": { "body-byte": 7 } } }, "scope": { "times": 1 },
    }));
    let mut stalled = bench.connect().await;
    stalled.send("GET /printer").await;
    let head = stalled.until(b"\r\n\r\n").await;
    assert!(head.starts_with("HTTP/1.1 200 OK\r\n"));
    let mut body = [0; 7];
    stalled.exactly(&mut body).await;
    // Others are served meanwhile, and nothing has come here.
    for _ in 0..3 {
        assert_eq!(bench.ask("GET /printer").await.status, 200);
    }
    assert!(stalled.is_silent());
    drop(stalled);
    // Its task ends with it.
    bench.notes.wait_for("ConnectionClosed", 4).await;
}

#[tokio::test]
async fn an_answer_in_chunks_ends_without_the_last_one() {
    let bench = Bench::printing().await;
    let plain = bench.ask("GET /printer").await.body;
    let _guard = bench.raise(json!("no-last-chunk"));
    let (bytes, end) = all(&mut bench.connect().await).await;
    end.unwrap();
    assert!(bytes.contains("transfer-encoding: chunked\r\n"), "{bytes}");
    assert!(!bytes.contains("content-length"), "{bytes}");
    let (mut rest, mut body) = (&bytes[head_of(&bytes)..], String::new());
    while !rest.is_empty() {
        let (size, after) = rest.split_once("\r\n").unwrap();
        let size = usize::from_str_radix(size, 16).unwrap();
        assert!(size > 0, "the last chunk is there");
        body.push_str(&after[..size]);
        rest = after[size..].strip_prefix("\r\n").unwrap();
    }
    assert_eq!(body, plain);
}

#[tokio::test]
async fn garbage_comes_instead_of_an_answer() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({ "garbage": { "text": "\u{1}?? no HTTP" } }));
    let (bytes, end) = all(&mut bench.connect().await).await;
    end.unwrap();
    assert_eq!(bytes, "\u{1}?? no HTTP");
}

#[tokio::test]
async fn an_answer_comes_twice_and_the_connection_goes_on() {
    let bench = Bench::printing().await;
    let guard = bench.raise(json!("twice"));
    let mut client = bench.connect().await;
    client.send("GET /job").await;
    let (first, second) = (client.reply(true).await, client.reply(true).await);
    assert_eq!(first, second);
    drop(guard);
    assert_eq!(client.ask("GET /printer").await.status, 200);
    assert!(client.is_silent());
}

#[tokio::test]
async fn data_follows_an_answer_on_the_same_connection() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({ "trailing-data": { "text": "and more" } }));
    let mut client = bench.connect().await;
    assert_eq!(client.ask("GET /job").await.status, 200);
    let mut more = [0; 8];
    client.exactly(&mut more).await;
    assert_eq!(&more, b"and more");
}

#[tokio::test]
async fn the_length_told_is_wrong_by_what_was_asked_and_the_body_is_whole() {
    let bench = Bench::printing().await;
    let right = bench.ask("GET /job").await.body;
    for by in [-10_i32, 100] {
        let _guard = bench.raise(json!({
            "fault": { "wrong-length": { "by": by } }, "scope": { "times": 1 },
        }));
        let mut client = bench.connect().await;
        client.send("GET /job").await;
        let head = client.until(b"\r\n\r\n").await;
        let told = i32::try_from(right.len()).unwrap() + by;
        assert!(
            head.contains(&format!("content-length: {told}\r\n")),
            "{head}"
        );
        let mut body = vec![0; right.len()];
        client.exactly(&mut body).await;
        assert_eq!(body, right.as_bytes());
        assert_eq!(bench.ask("GET /none").await.status, 404);
        assert!(client.is_silent(), "the connection stays open");
    }
}

#[tokio::test]
async fn a_huge_field_is_in_the_head_and_the_rest_is_as_ever() {
    let bench = Bench::printing().await;
    let plain = undated(&bench.whole("GET /job").await);
    let _guard = bench.raise(json!({ "huge-header": { "bytes": 300_000 } }));
    let huge = undated(&bench.whole("GET /job").await);
    let filler = format!("Filler: {}\r\n", "a".repeat(300_000));
    assert_eq!(huge.replacen(&filler, "", 1), plain);
    assert_eq!(huge.len(), plain.len() + filler.len());
}

#[tokio::test]
async fn interim_answers_come_before_the_answer_rfc_9110_s15_2() {
    let bench = Bench::printing().await;
    let plain = undated(&bench.whole("GET /job").await);
    let _guard = bench.raise(json!({ "interim": { "code": 102, "times": 2 } }));
    let _other = bench.raise(json!({ "interim": { "code": 103 } }));
    let bytes = undated(&bench.whole("GET /job").await);
    let interim = "HTTP/1.1 102 Processing\r\n\r\n".repeat(2) + "HTTP/1.1 103 Early Hints\r\n\r\n";
    assert_eq!(bytes, interim + &plain);
}

#[tokio::test(start_paused = true)]
async fn byte_by_byte_takes_a_gap_for_each_byte() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({ "drip": { "gap": "10ms" } }));
    let begun = Instant::now();
    let mut client = bench.connect().await;
    client.send("GET /job\nConnection: close").await;
    let (bytes, end) = client.rest_patiently().await;
    end.unwrap();
    let gaps = u32::try_from(bytes.len()).unwrap();
    let spent = begun.elapsed();
    assert!(spent >= (gaps - 1) * Duration::from_millis(10), "{spent:?}");
    assert!(spent <= gaps * Duration::from_millis(12), "{spent:?}");
}

#[tokio::test(start_paused = true)]
async fn a_narrow_line_takes_the_time_of_its_rate() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({ "bandwidth": { "bytes-per-second": 200 } }));
    let begun = Instant::now();
    let mut client = bench.connect().await;
    client.send("GET /printer\nConnection: close").await;
    let (bytes, end) = client.rest_patiently().await;
    end.unwrap();
    let exact_s = bytes.len() as f64 / 200.0;
    let spent_s = begun.elapsed().as_secs_f64();
    // The pause behind the last bytes keeps nobody waiting.
    assert!(
        (exact_s - 0.06..=exact_s * 1.1).contains(&spent_s),
        "{spent_s} for {exact_s}"
    );
}

#[tokio::test(start_paused = true)]
async fn a_late_answer_is_late_by_what_was_asked() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({ "latency": { "of": "3s", "jitter": "2s" } }));
    let mut spans = Vec::new();
    for _ in 0..6 {
        let begun = Instant::now();
        let mut client = bench.connect().await;
        client.send("GET /job\nConnection: close").await;
        let (bytes, _) = client.rest_patiently().await;
        assert!(bytes.starts_with(b"HTTP/1.1 200 OK\r\n"));
        spans.push(begun.elapsed());
    }
    let bounds = Duration::from_secs(3)..=Duration::from_millis(5010);
    assert!(spans.iter().all(|span| bounds.contains(span)), "{spans:?}");
    assert!(spans.iter().any(|span| *span != spans[0]), "{spans:?}");
}

#[tokio::test]
async fn faults_of_bytes_and_of_answers_combine() {
    let bench = Bench::printing().await;
    let _status = bench.raise(json!({ "status": { "code": 502 } }));
    let _reset = bench.raise(json!({ "reset": { "at": "head-end" } }));
    let _interim = bench.raise(json!("interim"));
    let (bytes, end) = all(&mut bench.connect().await).await;
    assert!(bytes.starts_with("HTTP/1.1 102 Processing\r\n\r\nHTTP/1.1 502 Bad Gateway\r\n"));
    assert!(bytes.ends_with("\r\n\r\n"));
    assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
}
