//! Start and stop.

use std::io::ErrorKind;

use tokio::net::TcpStream;

use super::common::{Bench, options};
use crate::server::{Host, StartError};

#[tokio::test]
async fn a_stopped_host_refuses_and_its_port_is_free_again() {
    let bench = Bench::printing().await;
    let address = bench.host.local_addr();
    let mut idle = bench.connect().await;
    assert_eq!(idle.ask("GET /job").await.status, 200);
    bench.host.stop().await;
    let error = TcpStream::connect(address).await.unwrap_err();
    assert_eq!(error.kind(), ErrorKind::ConnectionRefused);
    let (rest, end) = idle.rest().await;
    assert!(rest.is_empty() && end.is_ok(), "{rest:?} {end:?}");

    let mut options = options();
    options.listen = address;
    let again = Host::start(options).await.unwrap();
    assert_eq!(again.local_addr(), address);
    assert_eq!(again.url(), format!("http://{address}"));
}

#[tokio::test]
async fn an_answer_under_way_is_finished_and_a_stream_is_ended() {
    let bench = Bench::printing().await;
    let mut stream = bench.connect().await;
    stream.send("GET /printer/events").await;
    stream.until(b"data: ").await;
    let mut slow = bench.connect().await;
    slow.send("POST /job/pause\nContent-Length: 2").await;
    bench.notes.wait_for("ConnectionOpened", 2).await;

    let stopped = tokio::spawn(bench.host.stop());
    let (rest, end) = stream.rest().await;
    // The last chunk: the stream has ended, it was not cut (RFC 9112 section 7.1).
    assert!(rest.ends_with(b"0\r\n\r\n") && end.is_ok(), "{end:?}");
    slow.raw(b"{}").await;
    assert_eq!(slow.reply(true).await.status, 200);
    stopped.await.unwrap();
}

#[tokio::test(start_paused = true)]
async fn a_client_that_never_finishes_does_not_hold_the_host_for_ever() {
    let bench = Bench::printing().await;
    let mut slow = bench.connect().await;
    slow.send("POST /job/pause\nContent-Length: 2").await;
    bench.notes.wait_for("ConnectionOpened", 1).await;
    bench.host.stop().await;
    let (rest, _) = slow.rest_patiently().await;
    assert!(rest.is_empty(), "{rest:?}");
}

#[tokio::test]
async fn a_taken_port_is_an_error_that_names_it() {
    let bench = Bench::printing().await;
    let mut options = options();
    options.listen = bench.host.local_addr();
    let error = Host::start(options).await.unwrap_err();
    assert!(matches!(error, StartError::Listen { .. }), "{error}");
    assert!(
        error
            .to_string()
            .contains(&bench.host.local_addr().to_string())
    );
}

#[tokio::test]
async fn a_dropped_host_stops() {
    let bench = Bench::printing().await;
    let mut client = bench.connect().await;
    assert_eq!(client.ask("GET /job").await.status, 200);
    drop(bench);
    let (rest, _) = client.rest().await;
    assert!(rest.is_empty(), "{rest:?}");
}
