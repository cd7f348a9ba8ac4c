//! How a WebSocket ends.
//!
//! # Source
//! RFC 6455 section 5.5.1, section 7.1 and section 7.4.1.

use std::io::ErrorKind;
use std::sync::Arc;

use futures_util::SinkExt;
use tokio::io::AsyncWriteExt;
use tokio_tungstenite::tungstenite::protocol::CloseFrame;
use tokio_tungstenite::tungstenite::protocol::frame::Frame;
use tokio_tungstenite::tungstenite::protocol::frame::coding::{CloseCode, Data, OpCode};
use tokio_tungstenite::tungstenite::{Error, Message};

use super::common::{Bench, PRINTING, pushing};
use super::push_restart;
use super::push_websocket::{QUICK, Socket, next, open, text};
use crate::dialect::DialectFile;
use crate::fault::{Fault, Position};

/// Reads until the host closes, and gives the code.
async fn code(socket: &mut Socket) -> u16 {
    loop {
        match next(socket).await.unwrap() {
            Message::Close(Some(frame)) => return frame.code.into(),
            Message::Close(None) => panic!("no code"),
            _ => {}
        }
    }
}

/// Reads until the connection ends, and gives how.
async fn end(socket: &mut Socket) -> Error {
    loop {
        match next(socket).await {
            Ok(Message::Close(frame)) => panic!("closed with {frame:?}"),
            Ok(_) => {}
            Err(error) => return error,
        }
    }
}

fn is_reset(error: &Error) -> bool {
    matches!(error, Error::Io(error) if error.kind() == ErrorKind::ConnectionReset)
}

#[tokio::test]
async fn the_clients_close_is_answered_with_its_own_code() {
    let bench = Bench::pushing(QUICK).await;
    for sent in [1000, 4001] {
        let mut socket = open(&bench).await;
        let frame = CloseFrame {
            code: CloseCode::from(sent),
            reason: "done".into(),
        };
        socket.close(Some(frame)).await.unwrap();
        assert_eq!(code(&mut socket).await, sent);
        // The host closes the connection (section 7.1.1).
        assert!(matches!(end(&mut socket).await, Error::ConnectionClosed));
    }
    bench.notes.wait_for("ConnectionClosed", 2).await;
}

#[tokio::test]
async fn what_is_no_good_frame_is_closed_with_the_code_that_says_so() {
    let bench = Bench::pushing(QUICK).await;
    let text_frame = |bytes: Vec<u8>| Frame::message(bytes, OpCode::Data(Data::Text), true);
    for (message, expected) in [
        (Message::binary(vec![1, 2]), 1003),
        (Message::Frame(text_frame(vec![0xc3, 0x28])), 1007),
        (Message::text("x".repeat(64 * 1024 + 1)), 1009),
        // A continuation of nothing.
        (
            Message::Frame(Frame::message(vec![1], OpCode::Data(Data::Continue), true)),
            1002,
        ),
    ] {
        let mut socket = open(&bench).await;
        socket.send(message).await.unwrap();
        assert_eq!(code(&mut socket).await, expected);
    }
    bench.notes.wait_for("ConnectionClosed", 4).await;
}

#[tokio::test]
async fn a_frame_without_a_mask_is_a_protocol_error_rfc_6455_s5_1() {
    let bench = Bench::pushing(QUICK).await;
    let mut socket = open(&bench).await;
    socket.get_mut().write_all(b"\x81\x02hi").await.unwrap();
    assert_eq!(code(&mut socket).await, 1002);
}

#[tokio::test]
async fn a_host_that_stops_says_that_it_goes_away() {
    let bench = Bench::pushing(QUICK).await;
    let mut socket = open(&bench).await;
    text(&mut socket).await;
    let stopped = tokio::spawn(bench.host.stop());
    assert_eq!(code(&mut socket).await, 1001);
    assert!(matches!(end(&mut socket).await, Error::ConnectionClosed));
    stopped.await.unwrap();
}

#[tokio::test]
async fn when_what_it_shows_is_gone_it_is_closed_as_done() {
    let plain = include_str!("../../../dialects/plain.toml");
    let route = "\n[[routes]]\nmethod = \"GET\"\npath = \"/layer\"\nexists = \"phase == 'printing'\"\n\
                 push = { form = \"websocket\", period-ms = 10 }\nbody = '\"{{ job.layer }}\"'\n";
    let bench = Bench::with(|options| {
        let dialect = DialectFile::parse("layer", &format!("{plain}{route}"));
        options.dialect = Arc::new(dialect.unwrap());
    })
    .await;
    bench.host.clock().jump_to(PRINTING).unwrap();
    let stream = tokio::net::TcpStream::connect(bench.host.local_addr());
    let url = format!("ws://{}/layer", bench.host.local_addr());
    let (mut socket, _) = tokio_tungstenite::client_async(url, stream.await.unwrap())
        .await
        .unwrap();
    text(&mut socket).await;
    assert_eq!(bench.ask("POST /job/pause").await.status, 200);
    assert_eq!(code(&mut socket).await, 1000);
}

#[tokio::test]
async fn a_fault_of_the_bytes_resets_it_also_while_nothing_is_sent() {
    let bench = Bench::pushing(QUICK).await;
    let mut socket = open(&bench).await;
    text(&mut socket).await;
    assert_eq!(
        bench
            .notes
            .count(|event| event.starts_with("ConnectionClosed")),
        0,
        "the connection counts as closed while its WebSocket is open"
    );
    let _guard = bench.host.faults().raise(Fault::reset_at(Position::Start));
    let error = end(&mut socket).await;
    assert!(is_reset(&error), "{error:?}");
    bench.notes.wait_for("ConnectionReset", 1).await;
    bench.notes.wait_for("ConnectionClosed", 1).await;
}

#[tokio::test]
async fn refusing_ends_it_without_a_close_frame() {
    let bench = Bench::pushing(QUICK).await;
    let mut socket = open(&bench).await;
    text(&mut socket).await;
    let guard = bench.host.faults().raise(Fault::Refuse);
    guard.settled().await;
    end(&mut socket).await;
}

#[tokio::test]
async fn a_host_that_restarts_resets_it_without_a_close_frame() {
    for (minutes, seconds) in [(20, 10), (22, 0)] {
        let bench = push_restart::bench(QUICK).await;
        let mut socket = open(&bench).await;
        text(&mut socket).await;
        let moment = push_restart::at(minutes, seconds);
        bench.host.clock().jump_to(moment).unwrap();
        let error = end(&mut socket).await;
        assert!(is_reset(&error), "{error:?}");
    }
}

#[tokio::test]
async fn a_client_that_goes_without_a_word_is_noticed() {
    let bench = Bench::with(|options| options.dialect = pushing(QUICK)).await;
    let mut socket = open(&bench).await;
    text(&mut socket).await;
    drop(socket);
    bench.notes.wait_for("ConnectionClosed", 1).await;
}
