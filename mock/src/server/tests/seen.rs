//! What the observer is told.

use http::{Method, StatusCode};

use super::common::Bench;
use crate::drift::{Drift, DriftClass, ReplaceByNull};
use crate::fault::{Fault, Position};
use crate::server::WireEvent;

#[tokio::test]
async fn an_exchange_is_told_from_connect_to_close_in_order() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    client
        .send("PUT /heaters/platform/target?x=%20\nX-Sample: 1\nConnection: close\n\n{\"target-celsius\": 60}")
        .await;
    let reply = client.reply(true).await;
    let (rest, end) = client.rest().await;
    assert!(rest.is_empty() && end.is_ok(), "{rest:?} {end:?}");
    bench.notes.wait_for("ConnectionClosed", 1).await;
    let events = bench.notes.events();
    let [
        WireEvent::ConnectionOpened {
            connection, peer, ..
        },
        WireEvent::RequestReceived {
            connection: on,
            exchange,
            method,
            target,
            headers,
            body,
            virtual_time,
        },
        WireEvent::AnswerSent {
            exchange: answered,
            status,
            body: sent,
            truth,
            ..
        },
        WireEvent::ConnectionClosed {
            connection: closed, ..
        },
    ] = events.as_slice()
    else {
        panic!("{events:#?}")
    };
    assert!(peer.ip().is_loopback());
    assert_eq!((connection, closed), (on, on));
    assert_eq!(exchange, answered);
    assert_eq!((method, *status), (&Method::PUT, StatusCode::OK));
    assert_eq!(target, "/heaters/platform/target?x=%20");
    assert!(headers.contains(&("x-sample".to_owned(), "1".to_owned())));
    assert_eq!(&body[..], b"{\"target-celsius\": 60}");
    assert_eq!(sent, reply.body.as_bytes());
    assert_eq!(*virtual_time, bench.host.clock().now());
    assert_eq!(*truth, bench.host.truth());
}

#[tokio::test]
async fn requests_that_are_turned_away_are_told_too() {
    let bench = Bench::with(|options| options.key = Some("k".to_owned())).await;
    assert_eq!(bench.ask("GET /printer").await.status, 401);
    assert_eq!(
        bench.ask("GET /none\nAuthorization: Bearer k").await.status,
        404
    );
    let _guard = bench.host.faults().raise(Fault::Status {
        code: StatusCode::SERVICE_UNAVAILABLE,
        retry_after: None,
    });
    assert_eq!(bench.ask("GET /printer").await.status, 503);
    let events = bench.notes.events();
    let statuses: Vec<u16> = events
        .iter()
        .filter_map(|event| match event {
            WireEvent::AnswerSent { status, .. } => Some(status.as_u16()),
            _ => None,
        })
        .collect();
    assert_eq!(statuses, [401, 404, 503]);
}

#[tokio::test]
async fn a_reset_is_told_with_the_answer_that_would_have_been_and_the_bytes_that_went() {
    let bench = Bench::printing().await;
    let whole = bench.ask("GET /job").await;
    let guard = bench
        .host
        .faults()
        .raise(Fault::reset_at(Position::Byte(9)));
    let mut client = bench.connect().await;
    client.send("GET /job").await;
    assert_eq!(client.rest().await.0.len(), 9);
    bench.notes.wait_for("ConnectionReset", 1).await;
    drop(guard);
    let events = bench.notes.events();
    let from = events
        .iter()
        .position(|event| matches!(event, WireEvent::FaultRaised { .. }))
        .unwrap();
    let answer = events[from..].iter().find_map(|event| match event {
        WireEvent::AnswerSent { body, .. } => Some(body.clone()),
        _ => None,
    });
    assert_eq!(answer.unwrap(), whole.body.as_bytes());
    let reset = events.iter().find_map(|event| match event {
        WireEvent::ConnectionReset { after_bytes, .. } => Some(*after_bytes),
        _ => None,
    });
    assert_eq!(reset, Some(9));
    assert!(matches!(
        events.last(),
        Some(WireEvent::FaultCleared { .. })
    ));
}

#[tokio::test]
async fn drifts_and_pushes_are_told() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    client.send("GET /printer/events").await;
    client.until(b"data: ").await;
    drop(bench.host.drifts().raise(Drift {
        name: "sample".to_owned(),
        pointer: "/job".to_owned(),
        change: ReplaceByNull.into(),
        class: DriftClass::Breaking,
    }));
    assert_eq!(
        bench.notes.count(|event| event.starts_with("DriftRaised")),
        1
    );
    assert_eq!(
        bench.notes.count(|event| event.starts_with("DriftCleared")),
        1
    );
    let pushed: Vec<u8> = bench
        .notes
        .events()
        .iter()
        .filter_map(|event| match event {
            WireEvent::PushSent { bytes, .. } => Some(bytes.to_vec()),
            _ => None,
        })
        .flatten()
        .collect();
    assert!(
        pushed.starts_with(b"retry: 2000\n\nid: 72000\ndata: {"),
        "{pushed:?}"
    );
}
