//! Requests that are framed badly, or are too much: what each is answered, and whether its connection
//! can go on.
//!
//! # Source
//! RFC 9112 as cited in each row.

use super::common::Bench;
use super::hardening::assert_serves;

/// What a request is answered.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Answered {
    /// With this status; the connection goes on.
    AndGoesOn(u16),
    /// With this status; the connection is closed in an orderly way, and nothing else is answered.
    AndCloses(u16),
    /// Not at all: the connection is closed in an orderly way.
    Never,
}
use Answered::{AndCloses, AndGoesOn, Never};

const GOOD: &str = "GET /job HTTP/1.1\r\nHost: a\r\n\r\n";

async fn check(bench: &Bench, what: &str, request: &[u8], expected: Answered) {
    let mut client = bench.connect().await;
    // The host may answer and close before all of it is written.
    let _ = client.pour(request).await;
    match expected {
        AndGoesOn(status) => {
            assert_eq!(client.reply(true).await.status, status, "{what}");
            let next = client.ask("GET /job").await.status;
            assert_eq!(next, 200, "after {what}");
        }
        AndCloses(status) => {
            let (bytes, end) = client.rest().await;
            let text = String::from_utf8_lossy(&bytes);
            assert!(end.is_ok(), "{what}: {end:?}");
            let line = format!("HTTP/1.1 {status} ");
            assert!(text.starts_with(&line), "{what}: {text}");
            assert_eq!(text.matches("HTTP/1.1 ").count(), 1, "{what}: {text}");
            let told = text.to_lowercase().contains("\r\nconnection: close\r\n");
            assert!(told, "{what}: {text}");
        }
        Never => {
            let (bytes, end) = client.rest().await;
            assert!(bytes.is_empty() && end.is_ok(), "{what}: {bytes:?} {end:?}");
        }
    }
    assert_serves(bench).await;
}

/// Checks requests without their body's end, each followed by a good one that must not be answered
/// where the first leaves open what belongs to it.
async fn check_all(rows: &[(&str, &str, Answered)]) {
    let bench = Bench::printing().await;
    for (what, request, expected) in rows {
        let mut request = (*request).to_owned();
        if !matches!(expected, AndGoesOn(_)) {
            request.push_str(GOOD);
        }
        check(&bench, what, request.as_bytes(), *expected).await;
    }
}

#[tokio::test]
async fn a_request_whose_length_is_in_doubt_is_the_last_one_of_its_connection() {
    check_all(&[
        (
            "two lengths that differ, s6.3",
            "GET /job HTTP/1.1\r\nHost: a\r\nContent-Length: 3\r\nContent-Length: 4\r\n\r\nabcd",
            AndCloses(400),
        ),
        (
            "two lengths that are equal, s6.3",
            "GET /job HTTP/1.1\r\nHost: a\r\nContent-Length: 2\r\nContent-Length: 2\r\n\r\n{}",
            AndGoesOn(200),
        ),
        (
            "a list of lengths, s6.3",
            "GET /job HTTP/1.1\r\nHost: a\r\nContent-Length: 2, 2\r\n\r\n{}",
            AndCloses(400),
        ),
        (
            "a negative length",
            "GET /job HTTP/1.1\r\nHost: a\r\nContent-Length: -1\r\n\r\n",
            AndCloses(400),
        ),
        (
            "a length with a sign",
            "GET /job HTTP/1.1\r\nHost: a\r\nContent-Length: +2\r\n\r\n{}",
            AndCloses(400),
        ),
        (
            "a length beyond 64 bits",
            "GET /job HTTP/1.1\r\nHost: a\r\nContent-Length: 99999999999999999999\r\n\r\n",
            AndCloses(400),
        ),
        (
            // The chunks count, and what follows is nobody's request.
            "a length and chunks, s6.1",
            "GET /job HTTP/1.1\r\nHost: a\r\nContent-Length: 30\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
            AndCloses(200),
        ),
        (
            "chunks and a length, s6.1",
            "GET /job HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\nContent-Length: 5\r\n\r\n0\r\n\r\n",
            AndCloses(200),
        ),
        (
            "a coding that is not known, s6.1",
            "GET /job HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: gzip\r\n\r\n",
            AndCloses(400),
        ),
        (
            "chunked that is not the last coding, s6.3",
            "GET /job HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked, gzip\r\n\r\n",
            AndCloses(400),
        ),
        (
            "chunks in HTTP/1.0, s6.1",
            "GET /job HTTP/1.0\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
            AndCloses(400),
        ),
    ])
    .await;
}

#[tokio::test]
async fn bad_chunks_are_400_and_end_the_connection_rfc_9112_s7_1() {
    const HEAD: &str = "POST /job/pause HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\n";
    let bench = Bench::printing().await;
    let extension = format!("1;{}\r\nx\r\n0\r\n\r\n", "e".repeat(1 << 20));
    let greatest = format!("ffffffffffffffff\r\n{}", " ".repeat(1 << 20));
    let trailer = format!("0\r\nx: {}\r\n\r\n", "t".repeat(1 << 20));
    for (what, body) in [
        ("a negative size", "-1\r\n"),
        ("a size of 17 digits", "11111111111111111\r\n"),
        ("the greatest size", &greatest),
        ("no size", "\r\n"),
        ("a size that is no number", "zz\r\n"),
        ("a size in the C language's hex", "0x2\r\n{}\r\n0\r\n\r\n"),
        ("data that is longer than its size", "2\r\n{}}\r\n0\r\n\r\n"),
        ("a size that ends with LF only", "2\n{}\r\n0\r\n\r\n"),
        ("an extension of a megabyte", &extension),
        ("a trailer of a megabyte", &trailer),
    ] {
        let request = format!("{HEAD}{body}{GOOD}");
        let expected = match what {
            // It is longer than what is read of any body.
            "the greatest size" => AndCloses(413),
            _ => AndCloses(400),
        };
        check(&bench, what, request.as_bytes(), expected).await;
    }
    assert_eq!(bench.host.truth().phase, crate::sim::Phase::Printing);
}

#[tokio::test]
async fn a_head_that_is_no_head_is_400_and_ends_the_connection() {
    check_all(&[
        (
            "white space before the colon, s5.1",
            "GET /job HTTP/1.1\r\nHost : a\r\n\r\n",
            AndCloses(400),
        ),
        (
            "a folded line, s5.2",
            "GET /job HTTP/1.1\r\nHost: a\r\nX: a\r\n b\r\n\r\n",
            AndCloses(400),
        ),
        (
            "a field without a name",
            "GET /job HTTP/1.1\r\nHost: a\r\n: b\r\n\r\n",
            AndCloses(400),
        ),
        (
            "a bare CR in a value, s2.2",
            "GET /job HTTP/1.1\r\nHost: a\r\nX: a\rb\r\n\r\n",
            AndCloses(400),
        ),
        (
            "NUL in a value",
            "GET /job HTTP/1.1\r\nHost: a\r\nX: a\0b\r\n\r\n",
            AndCloses(400),
        ),
        (
            "NUL in the target",
            "GET /j\0b HTTP/1.1\r\nHost: a\r\n\r\n",
            AndCloses(400),
        ),
        (
            "a space in the target, s3.2",
            "GET /job x HTTP/1.1\r\nHost: a\r\n\r\n",
            AndCloses(400),
        ),
        (
            "a major version that is not known, RFC 9110 s15.6.6 allows 505",
            "GET /job HTTP/9.9\r\nHost: a\r\n\r\n",
            AndCloses(400),
        ),
        (
            "a later minor version, which s2.3 would have taken as 1.1",
            "GET /job HTTP/1.2\r\nHost: a\r\n\r\n",
            AndCloses(400),
        ),
        ("no version", "GET /job\r\n\r\n", AndCloses(400)),
        (
            "no target",
            "GET HTTP/1.1\r\nHost: a\r\n\r\n",
            AndCloses(400),
        ),
        (
            "a version in small letters, s2.3",
            "GET /job http/1.1\r\nHost: a\r\n\r\n",
            AndCloses(400),
        ),
        (
            "an answer",
            "HTTP/1.1 200 OK\r\nContent-Length: 0\r\n\r\n",
            AndCloses(400),
        ),
        (
            "the beginning of HTTP/2, RFC 9113 s3.4",
            "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
            Never,
        ),
    ])
    .await;
    let bench = Bench::printing().await;
    // A record of TLS 1.0 (RFC 8446 section 5.1) with a ClientHello of 512 bytes.
    let mut hello = vec![
        0x16, 0x03, 0x01, 0x02, 0x00, 0x01, 0x00, 0x01, 0xfc, 0x03, 0x03,
    ];
    hello.resize(5 + 512, 0x55);
    check(&bench, "a ClientHello of TLS", &hello, AndCloses(400)).await;
    let bytes = b"GET /j\xf6b HTTP/1.1\r\nHost: a\r\n\r\n";
    check(&bench, "a target that is not UTF-8", bytes, AndCloses(400)).await;
}

#[tokio::test]
async fn what_is_odd_and_not_in_doubt_leaves_the_connection_as_it_is() {
    check_all(&[
        (
            "empty lines before the request, s2.2",
            "\r\n\r\nGET /job HTTP/1.1\r\nHost: a\r\n\r\n",
            AndGoesOn(200),
        ),
        (
            "lines that end with LF only, s2.2",
            "GET /job HTTP/1.1\nHost: a\n\n",
            AndGoesOn(200),
        ),
        (
            "a method in small letters, RFC 9110 s9.1",
            "get /job HTTP/1.1\r\nHost: a\r\n\r\n",
            AndGoesOn(501),
        ),
        (
            "a target in UTF-8",
            "GET /j\u{f6}b HTTP/1.1\r\nHost: a\r\n\r\n",
            AndGoesOn(404),
        ),
        (
            "the whole URL as target, s3.2.2",
            "GET http://a/job HTTP/1.1\r\nHost: a\r\n\r\n",
            AndGoesOn(200),
        ),
        (
            "a tunnel, RFC 9110 s9.3.6",
            "CONNECT a:1 HTTP/1.1\r\nHost: a:1\r\n\r\n",
            AndGoesOn(404),
        ),
        (
            "a fragment in the target",
            "GET /job#a HTTP/1.1\r\nHost: a\r\n\r\n",
            AndGoesOn(200),
        ),
    ])
    .await;
}

#[tokio::test]
async fn what_is_too_long_is_told_which_part_of_it_is() {
    let bench = Bench::printing().await;
    let head = |target: &str, fields: &str| {
        format!("GET {target} HTTP/1.1\r\nHost: a\r\n{fields}\r\n").into_bytes()
    };
    let long = |bytes: usize| format!("/{}", "t".repeat(bytes - 1));
    let field = |bytes: usize| format!("X: {}\r\n", "v".repeat(bytes));
    let fields = |count: usize| "X: v\r\n".repeat(count);
    // RFC 9110 section 15.5.15 for 414, RFC 6585 section 5 for 431.
    for (what, request, expected) in [
        ("a target of 8 KiB", head(&long(8192), ""), AndGoesOn(404)),
        (
            "a target of 8 KiB and a byte",
            head(&long(8193), ""),
            AndGoesOn(414),
        ),
        (
            "a query of 60 KiB",
            head(&format!("/job?{}", long(60_000)), ""),
            AndGoesOn(414),
        ),
        (
            "a target of a megabyte",
            head(&long(1 << 20), ""),
            AndCloses(431),
        ),
        (
            "a field of 32 KiB",
            head("/job", &field(32 * 1024)),
            AndGoesOn(200),
        ),
        (
            "a field of a megabyte",
            head("/job", &field(1 << 20)),
            AndCloses(431),
        ),
        // One more is `Host`.
        ("100 fields", head("/job", &fields(99)), AndGoesOn(200)),
        ("101 fields", head("/job", &fields(100)), AndCloses(431)),
        (
            "a line that never ends",
            vec![b'A'; 1 << 20],
            AndCloses(431),
        ),
    ] {
        check(&bench, what, &request, expected).await;
    }
}

#[tokio::test]
async fn a_client_that_sends_all_of_a_body_that_is_too_large_still_reads_413() {
    let bench = Bench::printing().await;
    let body = "x".repeat(4 << 20);
    let announced = format!(
        "POST /job/pause HTTP/1.1\r\nHost: a\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    check(&bench, "announced", announced.as_bytes(), AndCloses(413)).await;
    let chunk = "400\r\n".to_owned() + &body[..1024] + "\r\n";
    let chunked = format!(
        "POST /job/pause HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\n{}0\r\n\r\n",
        chunk.repeat(4096)
    );
    check(&bench, "in chunks", chunked.as_bytes(), AndCloses(413)).await;
    assert_eq!(bench.host.truth().phase, crate::sim::Phase::Printing);
}

#[tokio::test]
async fn who_asks_first_is_told_whether_to_send_its_body_rfc_9110_s10_1_1() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    client
        .send("POST /job/pause\nExpect: 100-continue\nContent-Length: 2")
        .await;
    assert_eq!(client.reply(false).await.status, 100);
    client.raw(b"{}").await;
    assert_eq!(client.reply(true).await.status, 200);

    let mut client = bench.connect().await;
    client
        .send("POST /job/pause\nExpect: 100-continue\nContent-Length: 70000")
        .await;
    assert_eq!(client.reply(true).await.status, 413);
    let (rest, end) = client.rest().await;
    assert!(rest.is_empty() && end.is_ok(), "{rest:?} {end:?}");
}
