//! Compressed answers: RFC 9110 section 8.4 and section 12.5.3.

use std::io::Read as _;

use flate2::read::GzDecoder;

use super::common::Bench;
use crate::server::WireEvent;

const WHEN_ASKED: &str = "[http]\ngzip = \"when-asked\"";

/// Asks on a connection of its own; gives the head and the bytes after it.
async fn ask(bench: &Bench, request: &str) -> (String, Vec<u8>) {
    let mut client = bench.connect().await;
    client.send(&format!("{request}\nConnection: close")).await;
    let head = client.until(b"\r\n\r\n").await;
    (head, client.rest().await.0)
}

fn field<'h>(head: &'h str, name: &str) -> Option<&'h str> {
    head.lines()
        .filter_map(|line| line.split_once(": "))
        .find(|(known, _)| *known == name)
        .map(|(_, value)| value)
}

fn unpacked(bytes: &[u8]) -> String {
    let mut text = String::new();
    GzDecoder::new(bytes).read_to_string(&mut text).unwrap();
    text
}

#[tokio::test]
async fn a_client_that_asks_gets_fewer_bytes_and_the_same_body() {
    let bench = Bench::speaking(WHEN_ASKED).await;
    let (plain_head, plain) = ask(&bench, "GET /printer").await;
    assert_eq!(field(&plain_head, "content-encoding"), None);
    assert_eq!(field(&plain_head, "vary"), Some("accept-encoding"));
    let (head, bytes) = ask(&bench, "GET /printer\nAccept-Encoding: br, gzip;q=0.5").await;
    assert_eq!(field(&head, "content-encoding"), Some("gzip"));
    assert_eq!(field(&head, "vary"), Some("accept-encoding"));
    let length = bytes.len().to_string();
    assert_eq!(field(&head, "content-length"), Some(length.as_str()));
    assert!(bytes.len() < plain.len(), "{} bytes", bytes.len());
    assert_eq!(unpacked(&bytes).as_bytes(), plain);
    let (head, bytes) = ask(&bench, "GET /printer\nAccept-Encoding: gzip;q=0, *").await;
    assert_eq!(field(&head, "content-encoding"), None);
    assert_eq!(bytes, plain);
}

#[tokio::test]
async fn an_error_is_compressed_too_and_head_tells_the_length_of_get() {
    let bench = Bench::speaking(WHEN_ASKED).await;
    for target in ["/printer", "/none"] {
        let fields = "\nAccept-Encoding: gzip";
        let (get, bytes) = ask(&bench, &format!("GET {target}{fields}")).await;
        assert!(unpacked(&bytes).starts_with('{'));
        let (head, nothing) = ask(&bench, &format!("HEAD {target}{fields}")).await;
        assert!(nothing.is_empty(), "{nothing:?}");
        for name in ["content-encoding", "content-length", "etag", "vary"] {
            assert_eq!(field(&head, name), field(&get, name), "{name} of {target}");
        }
    }
}

#[tokio::test]
async fn each_coding_has_its_own_strong_tag_and_is_known_by_it_rfc_9110_s8_8_3_3() {
    let bench = Bench::speaking(WHEN_ASKED).await;
    let tag = |head: &str| field(head, "etag").unwrap().to_owned();
    let plain = tag(&ask(&bench, "GET /printer").await.0);
    let packed = tag(&ask(&bench, "GET /printer\nAccept-Encoding: gzip").await.0);
    assert_ne!(plain, packed);
    let status = |head: &str| head[9..12].to_owned();
    for (known, accept, expected) in [
        (&plain, "identity", "304"),
        (&packed, "gzip", "304"),
        (&packed, "identity", "200"),
        (&plain, "gzip", "200"),
    ] {
        let request = format!("GET /printer\nIf-None-Match: {known}\nAccept-Encoding: {accept}");
        let (head, bytes) = ask(&bench, &request).await;
        assert_eq!(status(&head), expected, "{known} {accept}");
        assert_eq!(bytes.is_empty(), expected == "304");
        // RFC 9110 section 15.4.5: the fields that a 200 would have had.
        assert_eq!(field(&head, "vary"), Some("accept-encoding"));
        let own = if accept == "gzip" { &packed } else { &plain };
        assert_eq!(field(&head, "etag"), Some(own.as_str()));
    }
}

#[tokio::test]
async fn a_host_that_does_not_look_compresses_for_everybody() {
    let bench = Bench::speaking("[http]\ngzip = \"always\"").await;
    for fields in ["", "\nAccept-Encoding: identity"] {
        let (head, bytes) = ask(&bench, &format!("GET /printer{fields}")).await;
        assert_eq!(field(&head, "content-encoding"), Some("gzip"));
        assert_eq!(field(&head, "vary"), None);
        assert!(unpacked(&bytes).starts_with('{'));
    }
}

#[tokio::test]
async fn a_compressed_body_may_come_in_chunks() {
    let bench = Bench::speaking("[http]\ngzip = \"always\"\nlength = \"chunked\"").await;
    let (head, bytes) = ask(&bench, "GET /job").await;
    assert_eq!(field(&head, "transfer-encoding"), Some("chunked"));
    assert_eq!(field(&head, "content-encoding"), Some("gzip"));
    let line = bytes.windows(2).position(|pair| pair == b"\r\n").unwrap();
    let size = std::str::from_utf8(&bytes[..line]).unwrap();
    let size = usize::from_str_radix(size, 16).unwrap();
    assert!(unpacked(&bytes[line + 2..line + 2 + size]).contains("job-name"));
}

#[tokio::test]
async fn a_stream_is_not_compressed() {
    let bench = Bench::speaking("[http]\ngzip = \"always\"").await;
    let mut client = bench.connect().await;
    client
        .send("GET /printer/events\nAccept-Encoding: gzip")
        .await;
    let head = client.until(b"\r\n\r\n").await;
    assert_eq!(field(&head, "content-encoding"), None);
    client.until(b"retry: 2000\n\n").await;
}

#[tokio::test]
async fn the_observer_is_told_the_body_as_it_was_before() {
    let bench = Bench::speaking("[http]\ngzip = \"always\"").await;
    let (head, bytes) = ask(&bench, "GET /printer").await;
    let events = bench.notes.events();
    let (headers, body) = events
        .iter()
        .find_map(|event| match event {
            WireEvent::AnswerSent { headers, body, .. } => Some((headers, body)),
            _ => None,
        })
        .unwrap();
    assert_eq!(body, unpacked(&bytes).as_bytes());
    let tag = field(&head, "etag").unwrap().to_owned();
    assert!(headers.contains(&("etag".to_owned(), tag)), "{headers:?}");
    assert!(!headers.iter().any(|(name, _)| name == "content-encoding"));
}
