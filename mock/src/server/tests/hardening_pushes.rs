//! Clients of streams that send what they must not, or go without a word.

use super::common::{Bench, Client};
use super::hardening::{Tally, assert_serves, reset};
use crate::server::MAX_BODY_BYTES;

const WEBSOCKET: &str = r#"{ form = "websocket", period-ms = 10 }"#;

/// Gives a frame of a client as RFC 6455 section 5.2 draws it, masked with zeros.
fn frame(first: u8, announced: u64, payload: &[u8]) -> Vec<u8> {
    let mut bytes = vec![first];
    match announced {
        0..=125 => bytes.push(0x80 | u8::try_from(announced).unwrap()),
        _ => {
            bytes.push(0xff);
            bytes.extend_from_slice(&announced.to_be_bytes());
        }
    }
    bytes.extend_from_slice(&[0; 4]);
    bytes.extend_from_slice(payload);
    bytes
}

async fn open(bench: &Bench) -> Client {
    let mut client = bench.connect().await;
    let opening = "GET /printer/events\nConnection: Upgrade\nUpgrade: websocket\n\
                   Sec-WebSocket-Version: 13\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==";
    client.send(opening).await;
    assert_eq!(client.reply(false).await.status, 101);
    client
}

/// Tells whether a close frame with this code is among the bytes.
fn closes_with(bytes: &[u8], code: u16) -> bool {
    let [high, low] = code.to_be_bytes();
    bytes
        .windows(4)
        .any(|part| part[0] == 0x88 && part[2..] == [high, low])
}

#[tokio::test]
async fn frames_against_the_rules_close_their_own_websocket_rfc_6455_s7_4_1() {
    let (bench, tally) = Tally::of_host(|options| {
        options.dialect = super::common::pushing(WEBSOCKET);
    })
    .await;
    let text = "t".repeat(MAX_BODY_BYTES + 1);
    let rows: &[(&str, Vec<u8>, u16)] = &[
        ("an operation that is reserved", frame(0x83, 0, b""), 1002),
        ("reserved bits", frame(0xf1, 0, b""), 1002),
        ("a ping of 126 bytes", frame(0x89, 126, &[0; 126]), 1002),
        ("a ping in parts", frame(0x09, 0, b""), 1002),
        ("a continuation of nothing", frame(0x80, 0, b""), 1002),
        ("a frame without a mask", vec![0x81, 0x01, b'x'], 1002),
        ("a length of 2^63", frame(0x81, 1 << 63, b""), 1009),
        ("a length of 2^62", frame(0x81, 1 << 62, b""), 1009),
        (
            "a text that is too long",
            frame(0x81, text.len() as u64, text.as_bytes()),
            1009,
        ),
        ("a text that is none", frame(0x81, 2, b"\xc3\x28"), 1007),
        ("HTTP", b"GET / HTTP/1.1\r\nHost: a\r\n\r\n".to_vec(), 1002),
    ];
    for (what, bytes, code) in rows {
        let mut client = open(&bench).await;
        let _ = client.pour(bytes).await;
        let (said, _) = client.rest().await;
        assert!(closes_with(&said, *code), "{what}: {said:?}");
        drop(client);
        assert_eq!(open(&bench).await.into_stream().nodelay().ok(), Some(false));
    }
    tally.wait_for_the_end_of(2 * rows.len()).await;
}

#[tokio::test]
async fn parts_of_a_message_without_end_are_too_much_in_the_end() {
    let (bench, tally) = Tally::of_host(|options| {
        options.dialect = super::common::pushing(WEBSOCKET);
    })
    .await;
    let mut client = open(&bench).await;
    client.raw(&frame(0x01, 1, b"x")).await;
    let part = frame(0x00, 100, &[b'x'; 100]);
    // More than ever fits into what the host and the system hold.
    let _ = client.pour(&part.repeat(200_000)).await;
    drop(client);
    tally.wait_for_the_end_of(1).await;
}

#[tokio::test]
async fn hundreds_of_followers_that_reset_leave_nothing_behind() {
    for push in [
        WEBSOCKET,
        r#"{ form = "server-sent-events", period-ms = 10 }"#,
        r#"{ form = "long-poll", period-ms = 10, timeout-s = 3600 }"#,
    ] {
        let (bench, tally) = Tally::of_host(|options| {
            options.dialect = super::common::pushing(push);
        })
        .await;
        for _ in 0..200 {
            let client = match push {
                WEBSOCKET => open(&bench).await,
                _ => {
                    let mut client = bench.connect().await;
                    client.send("GET /printer/events").await;
                    client.until(b"\r\n\r\n").await;
                    client
                }
            };
            reset(client.into_stream());
        }
        tally.wait_for_the_end_of(200).await;
    }
}

#[tokio::test]
async fn what_the_client_of_an_event_stream_sends_waits_and_disturbs_nothing() {
    let bench = Bench::pushing(r#"{ form = "server-sent-events", period-ms = 10 }"#).await;
    let mut client = bench.connect().await;
    client.send("GET /printer/events").await;
    client.until(b"data: ").await;
    client.raw(&[0xff; 4096]).await;
    for _ in 0..5 {
        bench.step();
        client.until(b"data: ").await;
    }
    assert_serves(&bench).await;
}
