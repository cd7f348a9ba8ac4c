//! Many clients at once, and more than there may be.

use std::sync::Arc;

use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;

use super::common::options;
use super::hardening::{Tally, assert_serves, reset};
use crate::server::Clock;
use crate::server::accept::Acceptor;
use crate::server::capacity::Capacity;
use crate::server::shared::{Shared, Wire};
use crate::server::socket::Port;
use crate::sim::VirtualTime;

#[tokio::test]
async fn a_thousand_clients_that_connect_and_reset_leave_nothing_behind() {
    let (bench, tally) = Tally::of_host(|_| {}).await;
    for number in 0..1000_usize {
        let mut client = bench.connect().await;
        if number % 3 == 0 {
            client.raw(b"GET /printer HT").await;
        }
        if number % 3 == 1 {
            client.send("GET /printer").await;
        }
        reset(client.into_stream());
    }
    tally.wait_for_the_end_of(1000).await;
    assert_serves(&bench).await;
}

#[tokio::test]
async fn a_client_above_the_limit_waits_until_another_goes() {
    let options = options();
    let tally = Arc::new(Tally::default());
    let wire = Wire::new(
        Clock::paused_at(VirtualTime::ZERO),
        Some(Arc::clone(&tally) as _),
    );
    let shared = Shared::new(options.simulation, options.dialect, None, None, wire);
    let port = Port::take(options.listen).unwrap();
    let (address, listener) = (port.address(), port.listen().unwrap());
    let shared = Arc::new(shared);
    let acceptor = Acceptor::new(Arc::clone(&shared), port, listener, Capacity::new(2));
    let running = tokio::spawn(acceptor.run());

    let ask = async |stream: &mut TcpStream| {
        let request = b"GET /printer HTTP/1.1\r\nHost: a\r\n\r\n";
        stream.write_all(request).await.unwrap();
    };
    let answered = async |stream: &mut TcpStream| {
        let mut start = [0; 13];
        stream.read_exact(&mut start).await.unwrap();
        assert_eq!(&start, b"HTTP/1.1 200 ");
    };
    let mut inside = Vec::new();
    for _ in 0..2 {
        let mut stream = TcpStream::connect(address).await.unwrap();
        ask(&mut stream).await;
        answered(&mut stream).await;
        inside.push(stream);
    }
    let mut waiting = TcpStream::connect(address).await.unwrap();
    ask(&mut waiting).await;
    // Each exchange gives the acceptor a turn, in which it would accept the third if it might.
    for stream in &mut inside {
        ask(stream).await;
        let mut some = [0; 4096];
        assert_ne!(stream.read(&mut some).await.unwrap(), 0);
    }
    assert_eq!(tally.opened(), 2);
    drop(inside.pop());
    answered(&mut waiting).await;
    assert_eq!(tally.opened(), 3);
    shared.stop.cancel();
    running.await.unwrap();
}
