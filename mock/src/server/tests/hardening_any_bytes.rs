//! Whatever a client writes.

use proptest::prelude::*;
use proptest::sample::Index;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::time::timeout;

use super::common::PATIENCE;
use super::hardening::{Tally, assert_serves};

const REQUESTS: [&str; 4] = [
    "GET /printer HTTP/1.1\r\nHost: a\r\nIf-None-Match: \"0\"\r\nAccept-Encoding: gzip\r\n\r\n",
    "PUT /heaters/platform/target HTTP/1.1\r\nHost: a\r\nContent-Length: 23\r\n\r\n{\"target-celsius\": 60.5}",
    "POST /job/pause HTTP/1.1\r\nHost: a\r\nExpect: 100-continue\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n",
    "GET /job HTTP/1.1\r\nHost: a\r\nConnection: keep-alive\r\n\r\nGET /heaters/extruder HTTP/1.0\r\n\r\n",
];

/// Requests with bytes changed, put in, left out.
fn mutated() -> impl Strategy<Value = Vec<u8>> {
    let edit = (any::<Index>(), 0..3_u8, any::<u8>());
    let edits = prop::collection::vec(edit, 0..6);
    (prop::sample::select(&REQUESTS[..]), edits).prop_map(|(request, edits)| {
        let mut bytes = request.as_bytes().to_vec();
        for (at, kind, byte) in edits {
            let at = at.index(bytes.len());
            match kind {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                _ => {
                    bytes.remove(at);
                }
            }
        }
        bytes
    })
}

fn any_bytes() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        1 => prop::collection::vec(any::<u8>(), 0..2000),
        4 => mutated(),
        1 => prop::collection::vec(mutated(), 0..4).prop_map(|requests| requests.concat()),
    ]
}

#[test]
fn after_any_bytes_the_connection_ends_and_the_next_client_is_served() {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    let (bench, tally) = runtime.block_on(Tally::of_host(|_| {}));
    let connections = std::cell::Cell::new(0);
    proptest!(|(bytes in any_bytes())| {
        runtime.block_on(async {
            let mut stream = bench.connect().await.into_stream();
            // The host may have closed before all of it is written.
            let _ = stream.write_all(&bytes).await;
            let _ = stream.shutdown().await;
            let mut said = Vec::new();
            let end = timeout(PATIENCE, stream.read_to_end(&mut said)).await;
            assert!(end.is_ok(), "the connection does not end");
            assert!(said.is_empty() || said.starts_with(b"HTTP/1."), "{said:?}");
            drop(stream);
            assert_serves(&bench).await;
            connections.set(connections.get() + 2);
            tally.wait_for_the_end_of(connections.get()).await;
        });
    });
}
