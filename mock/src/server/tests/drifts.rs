//! Drifts as a client meets them.

use std::io::Read as _;

use flate2::read::GzDecoder;

use super::common::{Bench, Reply};
use super::push_stream::follow;
use crate::drift::{
    AddMember, ByteOrderMark, Chunked, Drift, EmptyBody, FieldCase, FieldNames, Gzip, InvalidUtf8,
    Pad, ReplaceByNull, Truncated,
};

#[tokio::test]
async fn a_drift_shows_at_once_and_goes_with_its_guard() {
    let bench = Bench::printing().await;
    let before = bench.ask("GET /printer").await;
    let guard = bench
        .host
        .drifts()
        .raise(Drift::of("/job/progress-percent", ReplaceByNull));
    let during = bench.ask("GET /printer").await;
    assert!(during.json()["job"]["progress-percent"].is_null());
    assert_ne!(during.field("etag"), before.field("etag"));
    drop(guard);
    assert_eq!(bench.ask("GET /printer").await.body, before.body);
}

#[tokio::test]
async fn a_drift_of_one_body_leaves_the_others_and_the_problems_alone() {
    let bench = Bench::printing().await;
    let job = bench.ask("GET /job").await;
    let missing = bench.ask("GET /none").await;
    let extra = AddMember {
        member: "extra".to_owned(),
        value: serde_json::json!({"deep": [true]}),
    };
    let _guard = bench.host.drifts().raise(Drift::of("/heaters", extra));
    assert_eq!(
        bench.ask("GET /printer").await.json()["heaters"]["extra"]["deep"][0],
        true
    );
    assert_eq!(bench.ask("GET /job").await.body, job.body);
    assert_eq!(bench.ask("GET /none").await.body, missing.body);
}

/// Asks for the printer and gives the head and the bytes of the body, which need not be text.
async fn bytes(bench: &Bench) -> (Reply, Vec<u8>) {
    let mut client = bench.connect().await;
    client.send("GET /printer\nConnection: close").await;
    let reply = client.reply(false).await;
    let (body, end) = client.rest().await;
    end.unwrap();
    (reply, body)
}

#[tokio::test]
async fn a_spelling_goes_out_as_it_is_with_its_own_length_and_tag() {
    let bench = Bench::printing().await;
    let (before, body) = bytes(&bench).await;
    let cut = Truncated { bytes: 20 };
    let invalid = InvalidUtf8;
    let beginning = [b"\xef\xbb\xbf".as_slice(), &body].concat();
    for (drift, wanted) in [
        (Drift::of("", cut), Some(body[..20].to_vec())),
        (Drift::of("", ByteOrderMark), Some(beginning)),
        (Drift::of("", EmptyBody), Some(Vec::new())),
        (Drift::of("/printer-state", invalid), None),
    ] {
        let guard = bench.host.drifts().raise(drift);
        let (during, sent) = bytes(&bench).await;
        assert_eq!(during.status, 200);
        assert_eq!(during.field("content-type"), before.field("content-type"));
        let length = sent.len().to_string();
        assert_eq!(during.field("content-length"), Some(&*length));
        assert_ne!(during.field("etag"), before.field("etag"));
        assert!(during.field("etag").is_some());
        match wanted {
            Some(wanted) => assert_eq!(sent, wanted),
            None => assert!(std::str::from_utf8(&sent).is_err()),
        }
        drop(guard);
    }
    assert_eq!(bytes(&bench).await.1, body);
}

// Source: RFC 9110 section 12.5.3.
#[tokio::test]
async fn gzip_comes_to_clients_that_ask_for_it_while_the_drift_is_in_force() {
    let bench = Bench::printing().await;
    let (before, body) = bytes(&bench).await;
    let guard = bench.host.drifts().raise(Drift::of("", Gzip));
    let (silent, plain) = bytes(&bench).await;
    assert_eq!(silent.field("content-encoding"), None);
    assert_eq!(silent.field("vary"), Some("accept-encoding"));
    assert_eq!(plain, body);
    let packed = |target: &'static str| {
        let bench = &bench;
        async move {
            let mut client = bench.connect().await;
            let fields = "Accept-Encoding: gzip\nConnection: close";
            client.send(&format!("GET {target}\n{fields}")).await;
            let reply = client.reply(false).await;
            (reply, client.rest().await.0)
        }
    };
    let (reply, sent) = packed("/printer").await;
    assert_eq!(reply.field("content-encoding"), Some("gzip"));
    assert_ne!(reply.field("etag"), before.field("etag"));
    let length = sent.len().to_string();
    assert_eq!(reply.field("content-length"), Some(&*length));
    let mut unpacked = Vec::new();
    GzDecoder::new(&sent[..])
        .read_to_end(&mut unpacked)
        .unwrap();
    assert_eq!(unpacked, body);
    let (problem, _) = packed("/none").await;
    assert_eq!(problem.field("content-encoding"), Some("gzip"));
    drop(guard);
    let (reply, sent) = packed("/printer").await;
    assert_eq!(reply.field("content-encoding"), None);
    assert_eq!(sent, body);
}

// Source: RFC 9112 sections 7.1 and 6.1.
#[tokio::test]
async fn chunks_come_in_the_place_of_the_length_while_the_drift_is_in_force() {
    let bench = Bench::printing().await;
    let guard = bench.host.drifts().raise(Drift::of("", Chunked));
    let (during, sent) = bytes(&bench).await;
    assert_eq!(during.field("transfer-encoding"), Some("chunked"));
    assert_eq!(during.field("content-length"), None);
    assert!(sent.ends_with(b"\r\n0\r\n\r\n"));
    let mut client = bench.connect().await;
    client.raw(b"GET /printer HTTP/1.0\r\n\r\n").await;
    let old = client.reply(true).await;
    assert_eq!(old.field("transfer-encoding"), None);
    assert!(old.json()["printer-state"].is_string());
    drop(guard);
    assert!(bytes(&bench).await.0.field("content-length").is_some());
}

#[tokio::test]
async fn a_body_of_20_megabytes_is_sent_whole() {
    let bench = Bench::printing().await;
    let (_, body) = bytes(&bench).await;
    let pad = Pad {
        member: "pad".to_owned(),
        bytes: 20_000_000,
    };
    let _guard = bench.host.drifts().raise(Drift::of("", pad));
    let mut client = bench.connect().await;
    client.send("GET /printer\nConnection: close").await;
    let reply = client.reply(false).await;
    let (sent, end) = client.rest_patiently().await;
    end.unwrap();
    assert_eq!(sent.len(), body.len() + 20_000_000 + r#","pad":"""#.len());
    let length = sent.len().to_string();
    assert_eq!(reply.field("content-length"), Some(&*length));
}

// Source: WHATWG HTML, "Server-sent events": the stream is UTF-8, and a decoder replaces what is not.
#[tokio::test]
async fn a_stream_of_events_has_the_bytes_that_are_no_utf_8_as_they_are() {
    let bench = Bench::printing().await;
    let _guard = bench
        .host
        .drifts()
        .raise(Drift::of("/printer-state", InvalidUtf8));
    let mut client = follow(&bench, "").await;
    client.until(b"processing").await;
    bench.host.stop().await;
    let (rest, _) = client.rest().await;
    assert!(rest.starts_with(b"\xff\","), "{}", rest.escape_ascii());
}

// Source: RFC 9110 section 5.1.
#[tokio::test]
async fn field_names_come_in_other_letters_while_the_drift_is_in_force() {
    let bench = Bench::printing().await;
    let plain = bench.ask("GET /job").await;
    let guard = bench.host.drifts().raise(Drift::of(
        "",
        FieldNames {
            case: FieldCase::Upper,
        },
    ));
    let mut client = bench.connect().await;
    for _ in 0..2 {
        let shouted = client.ask("GET /job").await;
        assert!(
            shouted
                .head
                .contains("\r\nCONTENT-TYPE: application/json\r\n")
        );
        let names = |head: &str| head.lines().skip(1).map(str::to_owned).collect::<Vec<_>>();
        for line in names(&shouted.head) {
            let name = line.split(':').next().unwrap();
            assert_eq!(name, name.to_ascii_uppercase());
        }
        assert_eq!(shouted.body, plain.body);
        assert_eq!(shouted.head.lines().next(), Some("HTTP/1.1 200 OK"));
    }
    drop(guard);
    assert!(
        client
            .ask("GET /job")
            .await
            .head
            .contains("\r\ncontent-type: ")
    );
}
