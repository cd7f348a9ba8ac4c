//! Clients that ask and do not read.

use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::task::{Context, Poll};

use bytes::Bytes;
use http_body::{Body, Frame, SizeHint};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::TokioIo;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpSocket;

use super::common::{Bench, Client};
use super::hardening::{Tally, assert_serves};
use crate::drift::{Drift, Pad};
use crate::server::body::{PIECE_BYTES, Pieces};
use crate::server::limits::{MAX_HEAD_BYTES, READ_TIMEOUT, UNREAD_TIMEOUT};

const REQUEST: &str = "GET /printer HTTP/1.1\r\nHost: a\r\n\r\n";

/// Connects with the smallest buffers that the system gives, so that little is on the way.
async fn narrow(bench: &Bench) -> Client {
    let socket = TcpSocket::new_v4().unwrap();
    socket.set_recv_buffer_size(1).unwrap();
    socket.set_send_buffer_size(1).unwrap();
    let stream = socket.connect(bench.host.local_addr()).await.unwrap();
    Client::from(stream)
}

#[tokio::test(start_paused = true)]
async fn a_client_that_reads_nothing_of_a_large_answer_is_given_up() {
    let (bench, tally) = Tally::of_host(|_| {}).await;
    let member = "extra".to_owned();
    let bytes = 16 << 20;
    let _guard = bench
        .host
        .drifts()
        .raise(Drift::of("", Pad { member, bytes }));
    let mut client = narrow(&bench).await;
    client.raw(REQUEST.as_bytes()).await;
    let begun = tokio::time::Instant::now();
    let mut waited = tokio::time::interval(UNREAD_TIMEOUT / 10);
    while begun.elapsed() <= UNREAD_TIMEOUT + UNREAD_TIMEOUT / 5 {
        waited.tick().await;
    }
    tally.wait_for_the_end_of(1).await;
    let (read, _) = client.rest_patiently().await;
    assert!(read.len() < bytes as usize, "{}", read.len());
}

/// The second head comes in while the first answer goes out, and is none that does not end.
#[tokio::test(start_paused = true)]
async fn a_request_that_waits_behind_an_answer_does_not_cut_it_however_slowly_that_is_read() {
    let bench = Bench::printing().await;
    let member = "extra".to_owned();
    let bytes = 16 << 20;
    let _guard = bench
        .host
        .drifts()
        .raise(Drift::of("", Pad { member, bytes }));
    let mut stream = narrow(&bench).await.into_stream();
    stream.write_all(REQUEST.as_bytes()).await.unwrap();
    let mut read = 0;
    let mut some = vec![0; 100_000];
    // For three times as long as a head may take.
    for step in 0..30 {
        read += stream.read(&mut some).await.unwrap();
        if step == 1 {
            let last = REQUEST.replace("\r\n\r\n", "\r\nConnection: close\r\n\r\n");
            stream.write_all(last.as_bytes()).await.unwrap();
        }
        tokio::time::sleep(READ_TIMEOUT / 10).await;
    }
    assert!(read < bytes as usize, "it is not slow enough");
    // From here on it is read as fast as the system brings it, which takes the system's time: a clock that
    // jumps whenever nothing is there would have run out long before.
    tokio::time::resume();
    let mut rest = Vec::new();
    stream.read_to_end(&mut rest).await.unwrap();
    assert!(
        read + rest.len() > 2 * bytes as usize,
        "{read} {}",
        rest.len()
    );
}

#[tokio::test(start_paused = true)]
async fn a_client_that_reads_nothing_of_a_stream_is_given_up() {
    let (bench, tally) = Tally::of_host(|options| {
        options.dialect = super::common::pushing(
            r#"{ form = "server-sent-events", period-ms = 100, on = "period" }"#,
        );
    })
    .await;
    let client = {
        let mut client = narrow(&bench).await;
        client
            .raw(b"GET /printer/events HTTP/1.1\r\nHost: a\r\n\r\n")
            .await;
        client
    };
    // Ten events a second fill what the system holds within some hours.
    let day = std::time::Duration::from_secs(24 * 3600);
    tokio::time::timeout(day, tally.wait_patiently_for_the_end_of(1))
        .await
        .expect("it is given up");
    drop(client);
    assert_serves(&bench).await;
}

#[tokio::test(start_paused = true)]
async fn a_client_that_pipelines_and_never_reads_has_to_wait_itself() {
    let (bench, tally) = Tally::of_host(|_| {}).await;
    let mut client = narrow(&bench).await;
    let requests = REQUEST.repeat(500_000);
    let begun = tokio::time::Instant::now();
    // It ends, as the host gives the client up.
    assert!(client.pour(requests.as_bytes()).await.is_err());
    assert!(begun.elapsed() >= UNREAD_TIMEOUT);
    // Those that the system held answers for, and no more.
    assert!(tally.requests() < 250_000, "{}", tally.requests());
    assert_serves(&bench).await;
}

#[tokio::test]
async fn a_thousand_requests_written_at_once_are_answered_in_order() {
    let bench = Bench::printing().await;
    let client = bench.connect().await;
    let mut requests: String = (0..1000)
        .map(|number| format!("GET /none/{number} HTTP/1.1\r\nHost: a\r\n\r\n"))
        .collect();
    requests.push_str("GET /job HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n");
    let (mut reading, mut writing) = client.into_stream().into_split();
    let mut text = String::new();
    let (read, written) = tokio::join!(
        reading.read_to_string(&mut text),
        writing.write_all(requests.as_bytes())
    );
    assert!(read.is_ok() && written.is_ok(), "{read:?} {written:?}");
    let numbers: Vec<usize> = text
        .split("/none/")
        .skip(1)
        .map(|rest| {
            let digits = rest.find(|c: char| !c.is_ascii_digit()).unwrap();
            rest[..digits].parse().unwrap()
        })
        .collect();
    assert_eq!(numbers, (0..1000).collect::<Vec<_>>());
}

/// Counts the pieces that the connection has taken.
struct Counted(Pieces, Arc<AtomicUsize>);

impl Body for Counted {
    type Data = Bytes;
    type Error = std::convert::Infallible;

    fn poll_frame(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Self::Error>>> {
        let this = self.get_mut();
        this.1.fetch_add(1, Ordering::SeqCst);
        Pin::new(&mut this.0).poll_frame(cx)
    }

    fn size_hint(&self) -> SizeHint {
        self.0.size_hint()
    }
}

#[tokio::test(start_paused = true)]
async fn of_an_answer_that_is_not_read_one_piece_is_held_and_not_the_whole() {
    let (near, mut far) = tokio::io::duplex(1024);
    let taken = Arc::new(AtomicUsize::new(0));
    let count = Arc::clone(&taken);
    let service = service_fn(move |_request| {
        let body = Pieces(Bytes::from(vec![b'x'; 16 << 20]));
        let body = Counted(body, Arc::clone(&count));
        std::future::ready(Ok::<_, std::convert::Infallible>(http::Response::new(body)))
    });
    let serving = http1::Builder::new()
        .max_buf_size(MAX_HEAD_BYTES)
        .header_read_timeout(None)
        .serve_connection(TokioIo::new(near), service);
    tokio::spawn(serving);
    far.write_all(REQUEST.as_bytes()).await.unwrap();
    // The clock jumps when nobody has anything left to do.
    tokio::time::sleep(UNREAD_TIMEOUT).await;
    assert_eq!(taken.load(Ordering::SeqCst), 1);
    let mut read = Vec::new();
    while read.len() < 16 << 20 {
        assert_ne!(far.read_buf(&mut read).await.unwrap(), 0);
    }
    assert!(taken.load(Ordering::SeqCst) >= (16 << 20) / PIECE_BYTES);
}
