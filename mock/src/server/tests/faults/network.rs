//! What happens to packets.
//!
//! The kernel's own clock cannot be stopped, so what must not come is given a moment of real time.

use std::io::ErrorKind;
use std::net::SocketAddr;
use std::time::Duration;

use serde_json::json;
use tokio::net::TcpStream;
use tokio::time::timeout;

use super::all;
use crate::server::tests::common::Bench;

/// Far more than loopback takes, and far less than a packet takes to be sent again (RFC 6298
/// section 2.4: a second).
const MOMENT: Duration = Duration::from_millis(300);

/// Gives how many bytes of a client's connection the other side has not acknowledged.
///
/// Both ends are looked for: a port is given anew to a connection with another host while the last one
/// is still in the table.
fn unacknowledged(client: SocketAddr, host: SocketAddr) -> u64 {
    let table = std::fs::read_to_string("/proc/net/tcp").unwrap();
    let ends = [client, host].map(|end| format!(":{:04X}", end.port()));
    let row = table
        .lines()
        .map(|line| line.split_whitespace().collect::<Vec<_>>())
        .find(|row| row.len() > 4 && row[1].ends_with(&ends[0]) && row[2].ends_with(&ends[1]))
        .expect("the connection is in the kernel's table");
    u64::from_str_radix(row[4].split(':').next().unwrap(), 16).unwrap()
}

#[tokio::test]
async fn without_a_network_nothing_is_answered_and_afterwards_everything_goes_on() {
    let bench = Bench::printing().await;
    let mut open = bench.connect().await;
    assert_eq!(open.ask("GET /job").await.status, 200);
    let guard = bench.raise(json!("unreachable"));
    guard.settled().await;
    let address = bench.host.local_addr();
    assert!(timeout(MOMENT, TcpStream::connect(address)).await.is_err());
    open.send("GET /printer").await;
    assert!(unacknowledged(open.local_addr(), address) > 0);
    assert!(open.is_silent());
    // Begun without a network, done with one: the kernel has sent its SYN again.
    let late = tokio::spawn(TcpStream::connect(address));
    guard.clear().await;
    let reply = open.reply(true).await;
    assert_eq!(reply.status, 200);
    assert!(late.await.unwrap().is_ok());
}

#[tokio::test]
async fn a_half_open_connection_is_dead_without_a_word_and_a_new_one_works() {
    let bench = Bench::printing().await;
    let mut dead = bench.connect().await;
    assert_eq!(dead.ask("GET /job").await.status, 200);
    let guard = bench.raise(json!("half-open"));
    guard.settled().await;
    dead.send("GET /printer").await;
    assert_eq!(bench.ask("GET /printer").await.status, 200);
    assert!(
        unacknowledged(dead.local_addr(), bench.host.local_addr()) > 0,
        "it was acknowledged"
    );
    assert!(dead.is_silent());
    guard.clear().await;
    // The host knows nothing of it any more, and says so when the client's bytes come again.
    let (bytes, end) = dead.rest().await;
    assert!(bytes.is_empty());
    assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
}

#[tokio::test]
async fn a_host_without_a_network_can_be_stopped() {
    let bench = Bench::printing().await;
    let mut open = bench.connect().await;
    assert_eq!(open.ask("GET /job").await.status, 200);
    let guard = bench.raise(json!("unreachable"));
    guard.settled().await;
    open.send("GET /printer").await;
    bench.host.stop().await;
    let (_, end) = open.rest().await;
    assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
    drop(guard);
}

#[tokio::test]
async fn a_window_of_refusal_begins_and_ends_with_the_virtual_clock() {
    let bench = Bench::printing().await;
    let _guard = bench.raise(json!({
        "fault": "refuse", "scope": { "after": "1m", "lasts": "1m" },
    }));
    let mut open = bench.connect().await;
    assert_eq!(open.ask("GET /job").await.status, 200);
    bench.host.clock().step(Duration::from_secs(60));
    // Open connections are closed when the listener is.
    let (bytes, _) = open.rest().await;
    assert!(bytes.is_empty());
    let refused = TcpStream::connect(bench.host.local_addr()).await;
    assert_eq!(refused.unwrap_err().kind(), ErrorKind::ConnectionRefused);
    bench.host.clock().step(Duration::from_secs(60));
    let opens = async {
        while TcpStream::connect(bench.host.local_addr()).await.is_err() {
            tokio::task::yield_now().await;
        }
    };
    timeout(Duration::from_secs(20), opens).await.unwrap();
    let (answer, _) = {
        let mut client = bench.connect().await;
        let _short = bench.raise(json!({ "close": { "at": { "byte": 15 } } }));
        all(&mut client).await
    };
    assert_eq!(answer, "HTTP/1.1 200 OK");
}
