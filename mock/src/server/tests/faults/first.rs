//! Faults as a client meets them.

use std::io::ErrorKind;
use std::time::SystemTime;

use http::StatusCode;
use socket2::{Domain, Socket, Type};
use tokio::net::TcpStream;

use crate::fault::{Fault, Position, RetryAfter, Span};
use crate::server::tests::common::Bench;

fn unavailable(retry_after: Option<RetryAfter>) -> Fault {
    Fault::Status {
        code: StatusCode::SERVICE_UNAVAILABLE,
        retry_after,
    }
}

#[tokio::test]
async fn a_refused_connect_is_refused_by_the_system_and_the_port_stays_ours() {
    let bench = Bench::printing().await;
    let address = bench.host.local_addr();
    let mut open = bench.connect().await;
    assert_eq!(open.ask("GET /job").await.status, 200);

    let guard = bench.host.faults().raise(Fault::Refuse);
    guard.settled().await;
    let error = TcpStream::connect(address).await.unwrap_err();
    assert_eq!(error.kind(), ErrorKind::ConnectionRefused);
    let (rest, _) = open.rest().await;
    assert!(rest.is_empty(), "{rest:?}");
    // A program that takes ports the plain way does not get this one meanwhile.
    let other = Socket::new(Domain::IPV4, Type::STREAM, None).unwrap();
    let error = other.bind(&address.into()).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::AddrInUse);

    guard.clear().await;
    assert_eq!(bench.host.local_addr(), address);
    assert_eq!(bench.ask("GET /job").await.status, 200);
}

#[tokio::test]
async fn refusing_can_come_and_go_many_times() {
    let bench = Bench::printing().await;
    for _ in 0..20 {
        let guard = bench.host.faults().raise(Fault::Refuse);
        guard.settled().await;
        assert!(TcpStream::connect(bench.host.local_addr()).await.is_err());
        guard.clear().await;
        assert_eq!(bench.ask("GET /job").await.status, 200);
    }
}

#[tokio::test]
async fn a_reset_comes_after_exactly_the_given_bytes() {
    let bench = Bench::printing().await;
    let whole = {
        let mut client = bench.connect().await;
        client.send("GET /printer\nConnection: close").await;
        client.rest().await.0
    };
    for after_bytes in [0, 1, 20, whole.len() - 1] {
        let _guard = bench
            .host
            .faults()
            .raise(Fault::reset_at(Position::Byte(after_bytes as u64)));
        let mut client = bench.connect().await;
        client.send("GET /printer\nConnection: close").await;
        let (bytes, end) = client.rest().await;
        assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
        assert_eq!(bytes.len(), after_bytes);
        // The date may have moved on by a second; the status line has not.
        let same = after_bytes.min(20);
        assert_eq!(bytes[..same], whole[..same]);
    }
    assert_eq!(bench.ask("GET /printer").await.status, 200);
}

#[tokio::test]
async fn an_answer_no_longer_than_the_given_bytes_passes_whole() {
    let bench = Bench::printing().await;
    let _guard = bench
        .host
        .faults()
        .raise(Fault::reset_at(Position::Byte(5000)));
    let mut client = bench.connect().await;
    for _ in 0..3 {
        assert_eq!(client.ask("GET /printer").await.status, 200);
    }
}

#[tokio::test]
async fn each_answer_of_a_connection_is_counted_by_itself() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    for _ in 0..5 {
        assert_eq!(client.ask("GET /printer").await.status, 200);
    }
    let _guard = bench
        .host
        .faults()
        .raise(Fault::reset_at(Position::Byte(17)));
    client.send("GET /printer").await;
    let (bytes, end) = client.rest().await;
    assert_eq!(bytes, b"HTTP/1.1 200 OK\r\n");
    assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
}

#[tokio::test]
async fn a_stream_under_way_is_reset_as_soon_as_the_fault_is_raised() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    client.send("GET /printer/events").await;
    client.until(b"data: ").await;
    let _guard = bench.host.faults().raise(Fault::reset_at(Position::Start));
    let (_, end) = client.rest().await;
    assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
}

#[tokio::test]
async fn a_status_is_answered_in_the_dialects_own_form() {
    let bench = Bench::printing().await;
    let guard = bench.host.faults().raise(unavailable(None));
    for request in ["GET /printer", "GET /none", "POST /job/pause"] {
        let reply = bench.ask(request).await;
        assert_eq!(reply.status, 503, "{request}");
        assert_eq!(
            reply.field("content-type"),
            Some("application/problem+json")
        );
        assert_eq!(reply.json()["title"], "Service Unavailable");
        assert_eq!(reply.field("retry-after"), None);
    }
    drop(guard);
    assert_eq!(bench.ask("GET /printer").await.status, 200);
    assert_eq!(bench.host.truth().phase, crate::sim::Phase::Printing);
}

#[tokio::test]
async fn a_status_without_content_has_none_rfc_9110_s15_3_5() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    for code in [StatusCode::NO_CONTENT, StatusCode::NOT_MODIFIED] {
        let _guard = bench.host.faults().raise(Fault::Status {
            code,
            retry_after: None,
        });
        let reply = client.ask("GET /printer").await;
        assert_eq!((reply.status, reply.body.as_str()), (code.as_u16(), ""));
        assert_eq!(reply.field("content-type"), None);
    }
    // A body after one of them would have been taken for the head of this answer.
    assert_eq!(client.ask("GET /printer").await.status, 200);
}

#[tokio::test]
async fn retry_after_has_either_form_rfc_9110_s10_2_3() {
    let bench = Bench::printing().await;
    let _guard = bench
        .host
        .faults()
        .raise(unavailable(Some(RetryAfter::Seconds(120))));
    let reply = bench.ask("GET /printer").await;
    assert_eq!(reply.field("retry-after"), Some("120"));
    drop(_guard);

    let _guard = bench
        .host
        .faults()
        .raise(unavailable(Some(RetryAfter::Date(Span::from_secs(3600)))));
    let reply = bench.ask("GET /printer").await;
    let date = |name| httpdate::parse_http_date(reply.field(name).unwrap()).unwrap();
    let span = date("retry-after").duration_since(SystemTime::UNIX_EPOCH);
    let from = date("date").duration_since(SystemTime::UNIX_EPOCH);
    // The two dates are cut to seconds at moments that may lie on both sides of one.
    let between = span.unwrap().as_secs() - from.unwrap().as_secs();
    assert!((3599..=3601).contains(&between), "{between}");
}
