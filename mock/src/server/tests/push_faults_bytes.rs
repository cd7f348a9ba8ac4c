//! Faults of the bytes that are raised while a stream of either form is under way.

use std::io::ErrorKind;
use std::time::Duration;

use super::common::{Bench, Client};
use super::push_websocket::opening;
use crate::fault::{Fault, Position, Span};

/// Is a stream of one form of which the first message is read.
struct Begun {
    bench: Bench,
    client: Client,
    /// What the bytes of a message end with.
    mark: &'static [u8],
    /// How many bytes of the answer are read.
    read: usize,
}

/// Is a form of push: what the dialect says of it, the request, and what its messages end with. There
/// are no comments and no pings for an hour.
type Form = (&'static str, String, &'static [u8]);

fn forms() -> [Form; 2] {
    let events = r#"{ form = "server-sent-events", period-ms = 500, keep-alive-s = 3600 }"#;
    let websocket = r#"{ form = "websocket", period-ms = 500, ping-s = 3600 }"#;
    [
        (events, "GET /printer/events".to_owned(), b"}}\n\n\r\n"),
        (websocket, opening(""), b"}}"),
    ]
}

/// Begins a stream.
async fn begin((push, request, mark): Form) -> Begun {
    let bench = Bench::pushing(push).await;
    let mut client = bench.connect().await;
    client.send(&request).await;
    let head = client.until(b"\r\n\r\n").await;
    let mut begun = Begun {
        bench,
        client,
        mark,
        read: head.len(),
    };
    begun.message().await;
    begun
}

impl Begun {
    /// Reads to the end of the next message, and gives all its bytes.
    async fn message(&mut self) -> Vec<u8> {
        let mut bytes = Vec::new();
        // What a body has last, so that no other place has the mark.
        let is_last = |bytes: &[u8]| bytes.windows(4).any(|four| four == b"rema");
        while !(bytes.ends_with(self.mark) && is_last(&bytes)) {
            bytes.extend(self.client.take(1).await);
        }
        self.read += bytes.len();
        bytes
    }
}

#[tokio::test]
async fn a_reset_comes_at_once_also_where_its_place_is_long_past() {
    for at in [Position::Start, Position::HeadEnd, Position::BodyByte(3)] {
        for form in forms() {
            let mut begun = begin(form).await;
            let _guard = begun.bench.host.faults().raise(Fault::reset_at(at));
            let (bytes, end) = begun.client.rest().await;
            assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
            assert!(bytes.is_empty(), "{bytes:?}");
            begun.bench.notes.wait_for("ConnectionReset", 1).await;
        }
    }
}

#[tokio::test]
async fn a_close_is_a_fin_without_the_last_chunk_or_a_close_frame() {
    for form in forms() {
        let mut begun = begin(form).await;
        let at = Position::Start;
        let _guard = begun.bench.host.faults().raise(Fault::Close { at });
        let (bytes, end) = begun.client.rest().await;
        end.unwrap();
        assert!(bytes.is_empty(), "{bytes:?}");
    }
}

#[tokio::test]
async fn a_reset_in_the_middle_of_a_message_comes_behind_exactly_the_bytes_before_it() {
    for form in forms() {
        let mut begun = begin(form).await;
        let at = Position::Byte(begun.read as u64 + 40);
        let _guard = begun.bench.host.faults().raise(Fault::reset_at(at));
        begun.bench.step();
        let (bytes, end) = begun.client.rest().await;
        assert_eq!(end.unwrap_err().kind(), ErrorKind::ConnectionReset);
        assert_eq!(bytes.len(), 40);
    }
}

#[tokio::test(start_paused = true)]
async fn a_stream_that_stalls_sends_nothing_more_and_stays_open() {
    for form in forms() {
        let mut begun = begin(form).await;
        let at = Position::Start;
        let guard = begun.bench.host.faults().raise(Fault::Stall { at });
        begun.bench.step();
        // The pings of the WebSocket would have been missed by then.
        assert!(begun.client.is_quiet(Duration::from_secs(3 * 3600)).await);
        drop(guard);
        begun.bench.step();
        assert!(begun.client.is_quiet(Duration::from_secs(60)).await);
        let Begun {
            bench, mut client, ..
        } = begun;
        bench.host.stop().await;
        let (bytes, end) = client.rest_patiently().await;
        end.unwrap();
        assert!(bytes.is_empty(), "{bytes:?}");
    }
}

#[tokio::test(start_paused = true)]
async fn a_client_that_leaves_a_stalled_stream_leaves_nothing_behind() {
    for form in forms() {
        let mut begun = begin(form).await;
        let at = Position::Start;
        let _guard = begun.bench.host.faults().raise(Fault::Stall { at });
        begun.bench.step();
        assert!(begun.client.is_quiet(Duration::from_secs(60)).await);
        drop(begun.client);
        begun.bench.notes.wait_for("ConnectionClosed", 1).await;
    }
}

#[tokio::test(start_paused = true)]
async fn a_line_that_gets_slow_has_its_rate_and_gets_fast_again() {
    for form in forms() {
        let mut begun = begin(form).await;
        let bytes_per_second = 10;
        let slow = Fault::Bandwidth { bytes_per_second };
        let guard = begun.bench.host.faults().raise(slow);
        begun.bench.step();
        begun.client.take(1).await;
        let begin = tokio::time::Instant::now();
        let rest = begun.message().await.len();
        let taken_s = begin.elapsed().as_secs_f64();
        let expected_s = rest as f64 / bytes_per_second as f64;
        // Each byte is a step of 0.1 s here, and the timers count whole milliseconds.
        assert!((taken_s - expected_s).abs() < 2.0, "{taken_s} {expected_s}");
        // Cleared in the middle of a message: what waits comes without its pauses.
        begun.bench.step();
        begun.client.take(10).await;
        drop(guard);
        let begin = tokio::time::Instant::now();
        begun.message().await;
        assert!(begin.elapsed().as_secs_f64() < 1.0);
    }
}

#[tokio::test(start_paused = true)]
async fn dripping_begins_and_ends_in_the_middle_of_a_stream() {
    for form in forms() {
        let mut begun = begin(form).await;
        let gap = Span::from_secs(60);
        let guard = begun.bench.host.faults().raise(Fault::Drip { gap });
        begun.bench.step();
        begun.client.take(1).await;
        let begin = tokio::time::Instant::now();
        begun.client.take(3).await;
        assert_eq!(begin.elapsed().as_secs(), 180);
        drop(guard);
        begun.message().await;
        assert!(begin.elapsed().as_secs() < 182);
    }
}

#[tokio::test(start_paused = true)]
async fn a_host_stops_also_with_a_stream_that_drips() {
    for form in forms() {
        let mut begun = begin(form).await;
        let gap = Span::from_secs(3600);
        let _guard = begun.bench.host.faults().raise(Fault::Drip { gap });
        begun.bench.step();
        begun.client.take(1).await;
        let Begun {
            bench, mut client, ..
        } = begun;
        bench.host.stop().await;
        let (bytes, _) = client.rest_patiently().await;
        assert!(bytes.len() < 10, "{bytes:?}");
    }
}
