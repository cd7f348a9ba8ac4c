//! Clients that take their time.

use std::time::Duration;

use super::common::{Bench, Client};
use super::hardening::Tally;
use crate::server::READ_TIMEOUT;

/// Writes a byte each second until the host closes; gives what it said and how long that took.
async fn drip(mut client: Client, bytes: &[u8]) -> (Vec<u8>, Duration) {
    let begun = tokio::time::Instant::now();
    let stop_after = 3 * READ_TIMEOUT;
    for byte in bytes.iter().cycle() {
        tokio::time::sleep(Duration::from_secs(1)).await;
        if begun.elapsed() > stop_after || client.pour(&[*byte]).await.is_err() {
            break;
        }
    }
    let elapsed = begun.elapsed();
    (client.rest_patiently().await.0, elapsed)
}

#[tokio::test(start_paused = true)]
async fn heads_that_come_byte_by_byte_are_given_up_and_meanwhile_another_client_is_served() {
    let (bench, tally) = Tally::of_host(|_| {}).await;
    let mut slow = tokio::task::JoinSet::new();
    for _ in 0..100 {
        let mut client = bench.connect().await;
        client.raw(b"GET /printer HTTP/1.1\r\nX: ").await;
        slow.spawn(drip(client, b"a"));
    }
    let mut other = bench.connect().await;
    for _ in 0..20 {
        tokio::time::sleep(Duration::from_secs(1)).await;
        assert_eq!(other.ask("GET /printer").await.status, 200);
    }
    while let Some(ended) = slow.join_next().await {
        let (said, after) = ended.unwrap();
        assert!(said.is_empty(), "{said:?}");
        // The byte after the one that finds the connection closed is refused.
        let allowed = READ_TIMEOUT..READ_TIMEOUT + Duration::from_secs(4);
        assert!(allowed.contains(&after), "{after:?}");
    }
    assert_eq!(other.ask("GET /printer").await.status, 200);
    drop(other);
    tally.wait_for_the_end_of(101).await;
}

#[tokio::test(start_paused = true)]
async fn empty_lines_without_end_are_no_way_to_stay() {
    let bench = Bench::printing().await;
    let client = bench.connect().await;
    let (said, after) = drip(client, b"\r\n").await;
    assert!(said.is_empty(), "{said:?}");
    assert!(after < READ_TIMEOUT + Duration::from_secs(5), "{after:?}");
}

#[tokio::test(start_paused = true)]
async fn a_body_that_trickles_in_is_408_and_its_connection_ends() {
    let bench = Bench::printing().await;
    for (fields, drop_of) in [
        ("Content-Length: 1000", &b" "[..]),
        // Chunks of one byte each, which never come to an end.
        ("Transfer-Encoding: chunked", b"1\r\n \r\n"),
    ] {
        let mut client = bench.connect().await;
        client.send(&format!("POST /job/pause\n{fields}")).await;
        let (said, after) = drip(client, drop_of).await;
        let said = String::from_utf8(said).unwrap();
        assert!(said.starts_with("HTTP/1.1 408 "), "{fields}: {said}");
        assert!(said.contains("\r\nconnection: close\r\n"), "{said}");
        assert!(after < READ_TIMEOUT + Duration::from_secs(5), "{after:?}");
    }
    assert_eq!(bench.host.truth().phase, crate::sim::Phase::Printing);
}
