//! Faults of hosts that speak TLS, before a client that checks what RFC 8446 and RFC 9110 ask.

use std::io::ErrorKind;

use rustls::CertificateError;
use serde_json::json;
use tokio::io::{AsyncReadExt, AsyncWriteExt};

use crate::fault::CertificateKind;
use crate::server::tests::tls::Secure;

#[tokio::test]
async fn a_certificate_can_go_bad_while_the_host_runs() {
    let secure = Secure::start(CertificateKind::Good).await;
    drop(secure.trusting().await);
    for (kind, is_it) in [
        (
            "expired",
            (|why| matches!(why, CertificateError::ExpiredContext { .. })) as fn(&_) -> bool,
        ),
        ("wrong-name", |why| {
            matches!(why, CertificateError::NotValidForNameContext { .. })
        }),
        ("unknown-issuer", |why| {
            matches!(why, CertificateError::UnknownIssuer)
        }),
    ] {
        let _guard = secure.bench.raise(json!({
            "fault": { "tls-certificate": { "is": kind } }, "scope": { "times": 1 },
        }));
        let why = secure.refusal("localhost").await;
        assert!(is_it(&why), "{kind}: {why:?}");
        drop(secure.trusting().await);
    }
}

#[tokio::test]
async fn without_a_farewell_the_client_cannot_tell_the_end_from_a_cut_rfc_8446_s6_1() {
    let secure = Secure::start(CertificateKind::Good).await;
    let ask = b"GET /job HTTP/1.1\r\nHost: test\r\nConnection: close\r\n\r\n";
    let mut good = secure.trusting().await;
    good.write_all(ask).await.unwrap();
    let mut whole = Vec::new();
    good.read_to_end(&mut whole).await.unwrap();
    let _guard = secure.bench.raise(json!("tls-without-notify"));
    let mut cut = secure.trusting().await;
    cut.write_all(ask).await.unwrap();
    let mut bytes = Vec::new();
    let error = cut.read_to_end(&mut bytes).await.unwrap_err();
    assert_eq!(error.kind(), ErrorKind::UnexpectedEof);
    assert_eq!(bytes.len(), whole.len());
}

#[tokio::test]
async fn a_silent_host_does_not_even_shake_hands() {
    let secure = Secure::start(CertificateKind::Good).await;
    let guard = secure.bench.raise(json!("silent"));
    let mut client = secure.bench.connect().await;
    // What begins a handshake; the rest does not matter to a host that says nothing.
    client.raw(&[22, 3, 1, 0, 5, 1, 0, 0, 1, 0]).await;
    secure.bench.notes.wait_for("FaultHappened", 1).await;
    assert!(client.is_silent());
    drop(guard);
    let (bytes, _) = client.rest().await;
    assert!(bytes.is_empty());
}

#[tokio::test]
async fn the_bytes_of_an_answer_are_counted_inside_tls() {
    let secure = Secure::start(CertificateKind::Good).await;
    let _guard = secure
        .bench
        .raise(json!({ "close": { "at": { "byte": 15 } } }));
    let mut client = secure.trusting().await;
    client
        .write_all(b"GET /job HTTP/1.1\r\nHost: test\r\n\r\n")
        .await
        .unwrap();
    let mut bytes = Vec::new();
    client.read_to_end(&mut bytes).await.unwrap();
    assert_eq!(bytes, b"HTTP/1.1 200 OK");
}
