//! A host that goes away for a while: its program restarts, or it has no power.

use std::io::ErrorKind;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use socket2::{Domain, Socket, Type};
use tokio::net::TcpStream;

use super::common::Bench;
use crate::scenario::Scenario;
use crate::sim::{Phase, Simulation, VirtualTime};

/// Gives a host that is away from 20 min on for 40 s, in the middle of a print.
async fn bench() -> Bench {
    of("host-restart").await
}

/// Gives a host without power from 25 min on for 8 s, in the middle of a print.
async fn without_power() -> Bench {
    of("power-dip").await
}

async fn of(scenario: &str) -> Bench {
    Bench::with(|options| {
        let scenario = Scenario::builtin(scenario).unwrap().unwrap();
        options.simulation = Simulation::new(Arc::new(scenario), 1);
    })
    .await
}

fn at(minutes: u64, seconds: u64) -> VirtualTime {
    VirtualTime::new(Duration::from_secs(60 * minutes + seconds))
}

#[tokio::test]
async fn who_connects_while_the_host_restarts_is_refused_and_nothing_is_carried_out() {
    let bench = bench().await;
    bench.settled_at(at(20, 10)).await;
    let error = TcpStream::connect(bench.host.local_addr())
        .await
        .unwrap_err();
    assert_eq!(error.kind(), ErrorKind::ConnectionRefused);
    bench.settled_at(at(20, 40)).await;
    assert_eq!(bench.ask("POST /job/pause").await.status, 200);
    assert_eq!(bench.host.truth().phase, Phase::Paused);
}

#[tokio::test]
async fn a_restart_is_no_fault_that_anybody_has_raised() {
    let bench = bench().await;
    bench.settled_at(at(20, 10)).await;
    assert!(bench.host.faults().raised().is_empty());
    bench.settled_at(at(21, 0)).await;
    assert_eq!(bench.notes.count(|event| event.contains("Fault")), 0);
}

#[tokio::test]
async fn an_idle_connection_is_closed_when_the_host_goes() {
    let bench = bench().await;
    bench.host.clock().jump_to(at(19, 0)).unwrap();
    let mut client = bench.connect().await;
    assert_eq!(client.ask("GET /printer").await.status, 200);
    bench.host.clock().jump_to(at(20, 10)).unwrap();
    let (rest, end) = client.rest().await;
    assert!(rest.is_empty() && end.is_ok(), "{rest:?} {end:?}");
}

#[tokio::test]
async fn a_connection_does_not_live_through_a_restart_that_nobody_saw() {
    let bench = bench().await;
    bench.host.clock().jump_to(at(19, 0)).unwrap();
    let mut client = bench.connect().await;
    assert_eq!(client.ask("GET /printer").await.status, 200);
    bench.host.clock().jump_to(at(22, 0)).unwrap();
    client.send("POST /job/pause").await;
    let (bytes, _) = client.rest().await;
    assert!(bytes.is_empty(), "{bytes:?}");
    assert_eq!(bench.host.truth().phase, Phase::Printing);
    // What came on it was heard by nobody.
    assert_eq!(
        bench
            .notes
            .count(|event| event.starts_with("RequestReceived")),
        1
    );
}

#[tokio::test]
async fn a_request_under_way_when_the_host_goes_is_neither_answered_nor_told_as_answered() {
    let bench = bench().await;
    bench.host.clock().jump_to(at(19, 0)).unwrap();
    let mut client = bench.connect().await;
    client.send("POST /job/pause\nContent-Length: 2").await;
    bench.notes.wait_for("ConnectionOpened", 1).await;
    bench.host.clock().jump_to(at(20, 10)).unwrap();
    let (bytes, _) = client.rest().await;
    assert!(bytes.is_empty(), "{bytes:?}");
    assert_eq!(
        bench.notes.count(|event| event.starts_with("AnswerSent")),
        0
    );
    assert_eq!(bench.host.truth().phase, Phase::Printing);
}

/// Begins to connect. On a loopback whose other end hears, the connection is there at once.
fn begin_to_connect(address: SocketAddr) -> Socket {
    let socket = Socket::new(Domain::IPV4, Type::STREAM, None).unwrap();
    socket.set_nonblocking(true).unwrap();
    // That it is in progress is an error in this interface.
    let _ = socket.connect(&address.into());
    socket
}

#[cfg(target_os = "linux")]
#[tokio::test]
async fn without_power_no_connect_is_answered() {
    let bench = without_power().await;
    bench.settled_at(at(24, 0)).await;
    assert!(
        begin_to_connect(bench.host.local_addr())
            .peer_addr()
            .is_ok()
    );
    bench.settled_at(at(25, 4)).await;
    let trying = begin_to_connect(bench.host.local_addr());
    assert!(trying.peer_addr().is_err());
    // It is no refusal either.
    assert!(trying.take_error().unwrap().is_none());
    bench.settled_at(at(25, 8)).await;
    assert_eq!(bench.ask("GET /printer").await.status, 200);
}

#[cfg(target_os = "linux")]
#[tokio::test]
async fn a_connection_from_before_a_loss_of_power_is_dead_and_told_so_when_it_sends() {
    for nobody_saw_it in [false, true] {
        let bench = without_power().await;
        bench.host.clock().jump_to(at(24, 0)).unwrap();
        let mut client = bench.connect().await;
        assert_eq!(client.ask("GET /printer").await.status, 200);
        if !nobody_saw_it {
            bench.settled_at(at(25, 4)).await;
        }
        bench.settled_at(at(26, 0)).await;
        client.send("GET /printer").await;
        let (bytes, end) = client.rest().await;
        assert!(bytes.is_empty(), "{bytes:?}");
        assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
        assert_eq!(bench.ask("GET /printer").await.status, 200);
    }
}
