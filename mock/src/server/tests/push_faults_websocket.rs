//! Faults of WebSockets, seen byte by byte.
//!
//! # Source
//! RFC 6455 section 5.2 (frames), section 5.5 (control frames), section 7.1.2 (the closing handshake).

use std::time::Duration;

use super::common::{Bench, Client};
use super::push_faults_stream::{happened, times};
use super::push_websocket::opening;
use crate::fault::Fault;
use crate::server::{FrameKind, WireEvent};

const QUICK: &str = r#"{ form = "websocket", period-ms = 10 }"#;
const CALM: &str = r#"{ form = "websocket", period-ms = 500, ping-s = 20, pong-within-s = 10 }"#;

const TEXT: u8 = 0x81;
const CLOSE: u8 = 0x88;
const PING: u8 = 0x89;
const PONG: u8 = 0x8a;

/// Reads a frame of the host's: its first byte, which says that it is whole and what it is, and the
/// payload.
pub(super) async fn frame(client: &mut Client) -> (u8, Vec<u8>) {
    let head = client.take(2).await;
    let length = match head[1] {
        126 => {
            let length = client.take(2).await;
            usize::from(u16::from_be_bytes([length[0], length[1]]))
        }
        short @ 0..126 => usize::from(short),
        other => panic!("a length of {other:#x}"),
    };
    (head[0], client.take(length).await)
}

/// Reads the next text, and gives no other frame a chance.
async fn text(client: &mut Client) -> String {
    let (kind, payload) = frame(client).await;
    assert_eq!(kind, TEXT, "{payload:?}");
    String::from_utf8(payload).unwrap()
}

/// Opens a WebSocket and reads the answer to the opening.
async fn open(bench: &Bench) -> Client {
    let mut client = bench.connect().await;
    client.send(&opening("")).await;
    let head = client.until(b"\r\n\r\n").await;
    assert!(head.starts_with("HTTP/1.1 101 "), "{head}");
    client
}

/// Writes a frame of a client, with a mask that changes nothing.
async fn say(client: &mut Client, kind: u8, payload: &[u8]) {
    let mut bytes = vec![kind, 0x80 | payload.len() as u8, 0, 0, 0, 0];
    bytes.extend_from_slice(payload);
    client.raw(&bytes).await;
}

#[tokio::test(start_paused = true)]
async fn in_silence_neither_text_nor_ping_nor_pong_comes() {
    let bench = Bench::pushing(CALM).await;
    let mut client = open(&bench).await;
    text(&mut client).await;
    let guard = bench.host.faults().raise(Fault::SilentStream);
    bench.step();
    say(&mut client, PING, b"there?").await;
    assert!(client.is_quiet(Duration::from_secs(300)).await);
    drop(guard);
    let present = bench.ask("GET /printer").await.body;
    assert_eq!(text(&mut client).await, present);
    say(&mut client, PING, b"now?").await;
    let mut kinds = [frame(&mut client).await, frame(&mut client).await];
    kinds.sort();
    // The host's own is long due.
    assert_eq!(kinds[0].0, PING);
    assert_eq!(kinds[1], (PONG, b"now?".to_vec()));
}

#[tokio::test(start_paused = true)]
async fn a_pong_that_is_overdue_closes_nothing_in_silence() {
    let bench = Bench::pushing(CALM).await;
    let mut client = open(&bench).await;
    text(&mut client).await;
    assert_eq!(frame(&mut client).await.0, PING);
    let _guard = bench.host.faults().raise(Fault::SilentStream);
    assert!(client.is_quiet(Duration::from_secs(300)).await);
}

#[tokio::test(start_paused = true)]
async fn a_client_that_closes_in_silence_is_let_go() {
    let bench = Bench::pushing(CALM).await;
    let mut client = open(&bench).await;
    text(&mut client).await;
    let _guard = bench.host.faults().raise(Fault::SilentStream);
    assert!(client.is_quiet(Duration::from_secs(60)).await);
    say(&mut client, CLOSE, &1000_u16.to_be_bytes()).await;
    let (bytes, end) = client.rest_patiently().await;
    end.unwrap();
    assert_eq!(bytes, [CLOSE, 2, 0x03, 0xe8]);
}

#[tokio::test]
async fn it_is_closed_with_the_code_of_the_fault_or_none() {
    let bench = Bench::pushing(QUICK).await;
    for (code, expected) in [
        (Some(4001), vec![CLOSE, 2, 0x0f, 0xa1]),
        (Some(1013), vec![CLOSE, 2, 0x03, 0xf5]),
        (Some(2999), vec![CLOSE, 2, 0x0b, 0xb7]),
        (None, vec![CLOSE, 0]),
    ] {
        let mut under_way = open(&bench).await;
        text(&mut under_way).await;
        let _guard = bench.host.faults().raise(Fault::StreamClosed { code });
        let mut new = open(&bench).await;
        for client in [&mut under_way, &mut new] {
            let (bytes, end) = client.rest().await;
            end.unwrap();
            assert_eq!(bytes, expected);
        }
    }
    let closed = bench.notes.events().into_iter().filter(|event| {
        matches!(
            event,
            WireEvent::FrameSent {
                kind: FrameKind::Close,
                ..
            }
        )
    });
    assert_eq!(closed.count(), 8);
}

#[tokio::test]
async fn after_its_close_frame_the_host_waits_for_the_clients() {
    let bench = Bench::pushing(QUICK).await;
    let mut client = open(&bench).await;
    text(&mut client).await;
    let _guard = bench
        .host
        .faults()
        .raise(Fault::StreamClosed { code: Some(1012) });
    assert_eq!(frame(&mut client).await, (CLOSE, vec![0x03, 0xf4]));
    // Read, and not answered with a reset as bytes to a closed socket would be.
    say(&mut client, CLOSE, &1012_u16.to_be_bytes()).await;
    let (bytes, end) = client.rest().await;
    end.unwrap();
    assert!(bytes.is_empty(), "{bytes:?}");
}

#[tokio::test]
async fn pings_stay_unanswered_while_texts_go_on() {
    let bench = Bench::pushing(QUICK).await;
    let mut client = open(&bench).await;
    text(&mut client).await;
    let guard = bench.host.faults().raise(Fault::NoPong);
    for number in 0..3 {
        say(&mut client, PING, &[number]).await;
        bench
            .notes
            .wait_for("FrameReceived", usize::from(number) + 1)
            .await;
        bench.step();
        let present = bench.ask("GET /printer").await.body;
        assert_eq!(text(&mut client).await, present);
    }
    drop(guard);
    say(&mut client, PING, b"now").await;
    assert_eq!(frame(&mut client).await, (PONG, b"now".to_vec()));
    let _guard = bench.host.faults().raise(Fault::NoPong);
    say(&mut client, CLOSE, &1000_u16.to_be_bytes()).await;
    let (bytes, end) = client.rest().await;
    end.unwrap();
    assert_eq!(bytes, [CLOSE, 2, 0x03, 0xe8]);
}

#[tokio::test(start_paused = true)]
async fn without_pongs_the_host_still_asks_for_them() {
    let bench = Bench::pushing(CALM).await;
    let mut client = open(&bench).await;
    text(&mut client).await;
    let _guard = bench.host.faults().raise(Fault::NoPong);
    for _ in 0..3 {
        let (kind, payload) = frame(&mut client).await;
        assert_eq!(kind, PING);
        say(&mut client, PONG, &payload).await;
    }
}

#[tokio::test]
async fn texts_are_missed_and_come_twice_and_have_no_ids_to_repeat() {
    let bench = Bench::pushing(QUICK).await;
    let mut client = open(&bench).await;
    text(&mut client).await;
    let guard = bench.host.faults().raise(times(Fault::MissedMessages, 1));
    bench.step();
    bench.notes.wait_for("FaultHappened", 1).await;
    drop(guard);
    let guard = bench.host.faults().raise(Fault::RepeatedIds);
    bench.step();
    let present = bench.ask("GET /printer").await.body;
    assert_eq!(text(&mut client).await, present);
    assert_eq!(happened(&bench).0, 0);
    drop(guard);
    let guard = bench.host.faults().raise(times(Fault::RepeatedMessages, 1));
    bench.step();
    let present = bench.ask("GET /printer").await.body;
    assert_eq!(text(&mut client).await, present);
    assert_eq!(text(&mut client).await, present);
    assert_eq!(happened(&bench), (1, 2), "with the one that was missed");
    drop(guard);
    bench.step();
    assert_ne!(text(&mut client).await, present);
}
