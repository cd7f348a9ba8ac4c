//! WebSockets: opening, messages, pings.
//!
//! # Source
//! RFC 6455.

use futures_util::{SinkExt, StreamExt};
use tokio::net::TcpStream;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::{Error, Message};

use super::common::{Bench, PATIENCE};
use crate::server::{FrameKind, WireEvent};

pub(super) const QUICK: &str = r#"{ form = "websocket", period-ms = 10 }"#;

pub(super) type Socket = WebSocketStream<TcpStream>;

/// Opens a WebSocket with a client that is not ours.
pub(super) async fn open(bench: &Bench) -> Socket {
    let stream = TcpStream::connect(bench.host.local_addr()).await.unwrap();
    let url = format!("ws://{}/printer/events", bench.host.local_addr());
    tokio_tungstenite::client_async(url, stream)
        .await
        .unwrap()
        .0
}

/// Reads the next message of any kind.
pub(super) async fn next(socket: &mut Socket) -> Result<Message, Error> {
    let next = tokio::time::timeout(PATIENCE, socket.next());
    let next = next.await.expect("the host sends nothing");
    next.unwrap_or(Err(Error::ConnectionClosed))
}

/// Reads the next text.
pub(super) async fn text(socket: &mut Socket) -> String {
    next(socket).await.unwrap().into_text().unwrap().to_string()
}

/// Gives the request that opens a WebSocket, with the key of the standard's example.
pub(super) fn opening(fields: &str) -> String {
    format!(
        "GET /printer/events\nConnection: keep-alive, Upgrade\nUpgrade: WebSocket\n\
         Sec-WebSocket-Version: 13\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ=={fields}"
    )
}

#[tokio::test]
async fn the_opening_is_answered_as_in_the_standards_example() {
    let bench = Bench::pushing(QUICK).await;
    let reply = bench.ask(&opening("")).await;
    assert_eq!(reply.status, 101);
    // RFC 6455 section 1.3.
    let accept = reply.field("sec-websocket-accept");
    assert_eq!(accept, Some("s3pPLMBiTxaQ9kYGzzhZRbK+xOo="));
    assert_eq!(reply.field("upgrade"), Some("websocket"));
    assert_eq!(reply.field("connection"), Some("upgrade"));
    assert_eq!(reply.field("content-type"), None);
    assert_eq!(reply.field("sec-websocket-protocol"), None);
}

#[tokio::test]
async fn what_opens_no_websocket_is_told_what_is_missing() {
    let bench = Bench::pushing(QUICK).await;
    let mut client = bench.connect().await;
    let without = |field: &str| {
        let request = opening("");
        let kept = request.lines().filter(|line| !line.starts_with(field));
        kept.collect::<Vec<_>>().join("\n")
    };
    for request in [
        "GET /printer/events".to_owned(),
        without("Upgrade"),
        without("Connection"),
        "HEAD /printer/events".to_owned(),
    ] {
        let reply = client.ask(&request).await;
        assert_eq!(reply.status, 426, "{request}");
        assert_eq!(reply.field("upgrade"), Some("websocket"), "{request}");
        assert_eq!(reply.field("sec-websocket-version"), None, "{request}");
    }
    for request in [
        opening("").replace("13", "8"),
        without("Sec-WebSocket-Version"),
    ] {
        let reply = client.ask(&request).await;
        assert_eq!(reply.status, 426, "{request}");
        assert_eq!(reply.field("sec-websocket-version"), Some("13"));
    }
    for request in [
        opening("").replace("ZQ==", "Z"),
        opening("").replace("dGhl", ""),
        without("Sec-WebSocket-Key"),
        opening("\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ=="),
    ] {
        assert_eq!(client.ask(&request).await.status, 400, "{request}");
    }
}

#[tokio::test]
async fn without_the_key_no_websocket_is_opened() {
    let bench = Bench::with(|options| {
        options.dialect = super::common::pushing(QUICK);
        options.key = Some("k".to_owned());
    })
    .await;
    assert_eq!(bench.ask(&opening("")).await.status, 401);
    let key = opening("\nAuthorization: Bearer k");
    assert_eq!(bench.ask(&key).await.status, 101);
}

#[tokio::test]
async fn the_subprotocol_is_named_to_who_offers_it() {
    let push = r#"{ form = "websocket", period-ms = 10, subprotocol = "printer.v2" }"#;
    let bench = Bench::pushing(push).await;
    for (offered, chosen) in [
        (
            "\nSec-WebSocket-Protocol: a, printer.v2",
            Some("printer.v2"),
        ),
        (
            "\nSec-WebSocket-Protocol: a\nSec-WebSocket-Protocol: printer.v2",
            Some("printer.v2"),
        ),
        ("\nSec-WebSocket-Protocol: PRINTER.V2", None),
        ("", None),
    ] {
        let reply = bench.ask(&opening(offered)).await;
        assert_eq!(reply.status, 101);
        assert_eq!(reply.field("sec-websocket-protocol"), chosen, "{offered}");
    }
}

#[tokio::test]
async fn two_clients_see_the_same_at_every_change() {
    let bench = Bench::pushing(QUICK).await;
    let mut one = open(&bench).await;
    let mut other = open(&bench).await;
    let mut shown = Vec::new();
    for _ in 0..5 {
        let present = bench.ask("GET /printer").await.body;
        assert_eq!(text(&mut one).await, present);
        assert_eq!(text(&mut other).await, present);
        shown.push(present);
        bench.step();
    }
    shown.dedup();
    assert_eq!(shown.len(), 5);
}

#[tokio::test]
async fn after_the_first_message_only_the_change_is_sent_where_the_dialect_says_so() {
    let push = r#"{ form = "websocket", period-ms = 10, messages = "merge-patch" }"#;
    let bench = Bench::pushing(push).await;
    let mut socket = open(&bench).await;
    let whole = text(&mut socket).await;
    let mut state: serde_json::Value = serde_json::from_str(&whole).unwrap();
    for _ in 0..5 {
        bench.step();
        let patch = text(&mut socket).await;
        assert!(patch.len() < whole.len() / 2, "{patch}");
        json_patch::merge(&mut state, &serde_json::from_str(&patch).unwrap());
        assert_eq!(state, bench.ask("GET /printer").await.json());
    }
}

#[tokio::test]
async fn what_a_client_says_is_told_and_a_ping_is_answered() {
    let bench = Bench::pushing(QUICK).await;
    let mut socket = open(&bench).await;
    text(&mut socket).await;
    let largest = "x".repeat(64 * 1024);
    socket.send(Message::text("hello")).await.unwrap();
    socket.send(Message::text(largest.clone())).await.unwrap();
    socket.send(Message::Ping("now".into())).await.unwrap();
    assert_eq!(
        next(&mut socket).await.unwrap(),
        Message::Pong("now".into())
    );
    let heard: Vec<_> = bench
        .notes
        .events()
        .into_iter()
        .filter_map(|event| match event {
            WireEvent::FrameReceived { kind, bytes, .. } => Some((kind, bytes)),
            _ => None,
        })
        .collect();
    assert_eq!(
        heard,
        [
            (FrameKind::Text, "hello".into()),
            (FrameKind::Text, largest.into()),
            (FrameKind::Ping, "now".into())
        ]
    );
}

#[tokio::test(start_paused = true)]
async fn a_client_that_answers_pings_stays_and_one_that_does_not_is_closed() {
    let push = r#"{ form = "websocket", period-ms = 500, ping-s = 30, pong-within-s = 10 }"#;
    let bench = Bench::pushing(push).await;
    let mut lively = open(&bench).await;
    let mut dull = bench.connect().await;
    let begun = tokio::time::Instant::now();
    dull.send(&opening("")).await;
    // The library answers a ping when it is read.
    for _ in 0..4 {
        while !lively.next().await.unwrap().unwrap().is_ping() {}
    }
    assert_eq!(begun.elapsed().as_secs(), 120);
    let patience = std::time::Duration::from_secs(3600);
    let (bytes, end) = tokio::time::timeout(patience, dull.rest_patiently())
        .await
        .expect("it is never closed");
    end.unwrap();
    // One ping, and at 40 s the close: 1002 (section 7.4.1) in a frame of the host's own.
    let pings = bytes.windows(2).filter(|two| *two == [0x89, 8]).count();
    assert_eq!(pings, 1);
    let close = [&[0x88, 2 + 21, 0x03, 0xea][..], b"the pong did not come"].concat();
    assert!(bytes.ends_with(&close), "{bytes:?}");
    let closed = bench.notes.events().into_iter().any(|event| {
        matches!(
            event,
            WireEvent::FrameSent {
                kind: FrameKind::Close,
                ..
            }
        )
    });
    assert!(closed);
}

#[tokio::test]
async fn an_upgrade_asked_for_elsewhere_is_not_made_rfc_9110_s7_8() {
    let bench = Bench::pushing(QUICK).await;
    let request = opening("").replace("/printer/events", "/printer");
    assert_eq!(bench.ask(&request).await.status, 200);
}
