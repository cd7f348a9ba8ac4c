//! A session played to a raw client, with a clock that is set by hand.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::server::Clock;
use coldbed_mock::sim::VirtualTime;
use proptest::prelude::*;
use serde_json::{Value, json};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use super::*;
use crate::format::SessionFile;
use crate::model::Session;

const HEAD: &str = "{\"line\":\"session\",\"version\":1,\"upstream\":\"http://printer.example\"}\n\
                    {\"line\":\"connection-opened\",\"at-seconds\":0,\"connection\":1}\n";

fn session(lines: &[Value]) -> Session {
    let lines: String = lines.iter().map(|line| format!("{line}\n")).collect();
    SessionFile::read(&format!("{HEAD}{lines}"))
        .unwrap()
        .session
}

fn request(number: u64, at: f64, target: &str) -> Value {
    json!({ "line": "request", "at-seconds": at, "connection": 1, "exchange": number,
        "method": "GET", "target": target, "fields": [["Host", "printer.example"]] })
}

/// An answer with a length, whole unless it says another end; it arrives in the pieces given.
fn answer(number: u64, at: f64, body: &str, pieces: &[(f64, u64)], end: &str) -> Value {
    let pieces: Vec<Value> = pieces
        .iter()
        .map(|(after, bytes)| json!({ "after-seconds": after, "bytes": bytes }))
        .collect();
    json!({ "line": "answer", "at-seconds": at, "exchange": number, "status": 200, "reason": "OK",
        "fields": [["Content-Length", body.len().to_string()]], "body": { "text": body },
        "framing": "length", "pieces": pieces, "end": end })
}

/// The status line and the one field of [`answer`] with a body of two bytes.
const SMALL: &[u8] = b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\n\r\n{}";

struct Bench {
    replay: Replay,
}

impl Bench {
    async fn of(session: Session, matching: Matching) -> Self {
        Self::with(session, matching, AtEnd::Repeat).await
    }

    async fn with(session: Session, matching: Matching, at_end: AtEnd) -> Self {
        let options = ReplayOptions {
            listen: "127.0.0.1:0".parse().unwrap(),
            tls: None,
            clock: Clock::paused_at(VirtualTime::ZERO),
            matching,
            at_end,
            observer: None,
        };
        Self {
            replay: Replay::start(Arc::new(session), options).await.unwrap(),
        }
    }

    fn step(&self, seconds: f64) {
        self.replay.clock().step(Duration::from_secs_f64(seconds));
    }

    /// Waits until so many requests have been taken: what is stepped then comes after them.
    async fn served(&self, count: u64) {
        while self.replay.counts().served < count {
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
    }

    async fn connect(&self) -> TcpStream {
        TcpStream::connect(self.replay.local_addr()).await.unwrap()
    }

    /// Asks on a connection of its own, which the request closes, and gives what comes.
    async fn ask(&self, target: &str) -> (Vec<u8>, std::io::Result<()>) {
        let mut client = self.asked(target).await;
        let mut bytes = Vec::new();
        let end = client.read_to_end(&mut bytes).await;
        (bytes, end.map(drop))
    }

    async fn asked(&self, target: &str) -> TcpStream {
        let mut client = self.connect().await;
        client
            .write_all(format!("GET {target} HTTP/1.1\r\nHost: x\r\n\r\n").as_bytes())
            .await
            .unwrap();
        client
    }

    /// Asks for an answer of so many bytes and gives it.
    async fn get(&self, target: &str, length: usize) -> Vec<u8> {
        let mut client = self.asked(target).await;
        let mut bytes = vec![0; length];
        client.read_exact(&mut bytes).await.unwrap();
        bytes
    }
}

fn three() -> Session {
    session(&[
        request(1, 10.0, "/job"),
        answer(1, 10.0, "1.", &[(0.0, 40)], "complete"),
        request(2, 20.0, "/job"),
        answer(2, 20.0, "2.", &[(0.0, 40)], "complete"),
        request(3, 30.0, "/job"),
        answer(3, 30.0, "3.", &[(0.0, 40)], "complete"),
    ])
}

async fn body(bench: &Bench) -> String {
    let bytes = bench.get("/job", 40).await;
    String::from_utf8(bytes[38..].to_vec()).unwrap()
}

#[tokio::test]
async fn in_order_each_request_gets_the_next_answer_at_any_pace() {
    let bench = Bench::of(three(), Matching::InOrder).await;
    assert!(!bench.replay.is_taken());
    for expected in ["1.", "2.", "3."] {
        assert_eq!(body(&bench).await, expected);
    }
    assert!(bench.replay.is_taken());
    assert_eq!(bench.replay.counts().after_end, 0);
    assert_eq!(body(&bench).await, "3.");
    assert_eq!(bench.replay.counts().after_end, 1);
}

#[tokio::test]
async fn in_order_what_is_over_can_be_gone() {
    let bench = Bench::with(three(), Matching::InOrder, AtEnd::NotFound).await;
    for _ in 0..3 {
        body(&bench).await;
    }
    let (mut bytes, mut client) = ([0; 12], bench.asked("/job").await);
    client.read_exact(&mut bytes).await.unwrap();
    assert_eq!(&bytes, b"HTTP/1.1 404");
}

#[tokio::test]
async fn by_time_a_client_at_another_pace_gets_what_the_host_said_then() {
    let bench = Bench::of(three(), Matching::ByTime).await;
    assert_eq!(body(&bench).await, "1.");
    bench.step(19.9);
    assert_eq!(body(&bench).await, "1.");
    bench.step(0.1);
    assert_eq!(body(&bench).await, "2.");
    assert_eq!(body(&bench).await, "2.");
    bench.step(100.0);
    assert_eq!(body(&bench).await, "3.");
}

#[tokio::test]
async fn pieces_come_at_their_times() {
    let slow = session(&[
        request(1, 0.0, "/"),
        answer(1, 9.0, "{}", &[(1.0, 20), (9.0, 20)], "complete"),
    ]);
    let bench = Bench::of(slow, Matching::ByTime).await;
    let mut client = bench.asked("/").await;
    // Its clock stands: nothing can come, however long it is waited for.
    let mut first = [0; 20];
    bench.served(1).await;
    bench.step(0.999);
    assert!(
        tokio::time::timeout(Duration::from_millis(30), client.read(&mut first))
            .await
            .is_err()
    );
    bench.step(0.001);
    client.read_exact(&mut first).await.unwrap();
    bench.step(7.9);
    let mut rest = [0; 20];
    assert!(
        tokio::time::timeout(Duration::from_millis(30), client.read(&mut rest))
            .await
            .is_err()
    );
    bench.step(0.1);
    client.read_exact(&mut rest).await.unwrap();
    assert_eq!([first, rest].concat(), SMALL);
}

#[tokio::test]
async fn a_reset_comes_back_after_as_many_bytes() {
    let cut = session(&[
        request(1, 0.0, "/"),
        answer(1, 0.0, "{\"progress\": 41", &[(0.0, 31)], "reset"),
    ]);
    let bench = Bench::of(cut, Matching::InOrder).await;
    let (bytes, end) = bench.ask("/").await;
    assert_eq!(bytes.len(), 31);
    assert_eq!(end.unwrap_err().kind(), std::io::ErrorKind::ConnectionReset);
}

#[tokio::test]
async fn a_close_comes_back_and_so_does_half_a_head() {
    let cut = session(&[
        request(1, 0.0, "/"),
        answer(1, 0.0, "{\"progress\": 41", &[(0.0, 45)], "closed"),
        request(2, 0.0, "/"),
        json!({ "line": "no-answer", "at-seconds": 0, "exchange": 2, "end": "closed",
            "received": { "text": "HTTP/1.1 2" } }),
    ]);
    let bench = Bench::of(cut, Matching::InOrder).await;
    let (bytes, end) = bench.ask("/").await;
    assert!(end.is_ok() && bytes.len() == 45, "{}", bytes.len());
    let (bytes, end) = bench.ask("/").await;
    assert!(end.is_ok());
    assert_eq!(bytes, b"HTTP/1.1 2");
}

#[tokio::test]
async fn who_was_refused_is_reset_and_who_waited_waits() {
    let none = |number, end| json!({ "line": "no-answer", "at-seconds": 0, "exchange": number, "end": end });
    let outage = session(&[
        request(1, 0.0, "/"),
        none(1, "refused"),
        request(2, 0.0, "/"),
        none(2, "unreachable"),
    ]);
    let bench = Bench::of(outage, Matching::InOrder).await;
    let (_, end) = bench.ask("/").await;
    assert_eq!(end.unwrap_err().kind(), std::io::ErrorKind::ConnectionReset);
    let silent = tokio::time::timeout(Duration::from_millis(30), bench.ask("/")).await;
    assert!(silent.is_err());
}

#[tokio::test]
async fn what_the_session_never_asked_for_is_404_and_counted() {
    let bench = Bench::of(three(), Matching::ByTime).await;
    let mut client = bench.asked("/nothing?x=1").await;
    let mut bytes = vec![0; 1000];
    let length = client.read(&mut bytes).await.unwrap();
    insta::assert_snapshot!(String::from_utf8_lossy(&bytes[..length]).replace('\r', ""));
    assert_eq!(
        bench.replay.counts().unknown,
        BTreeMap::from([("GET /nothing".to_owned(), 1)])
    );
}

#[tokio::test]
async fn who_wants_the_connection_closed_gets_it_closed_rfc_9112_s9_6() {
    let bench = Bench::of(three(), Matching::InOrder).await;
    let mut client = bench.connect().await;
    client
        .write_all(b"GET /job HTTP/1.1\r\nConnection: close\r\n\r\n")
        .await
        .unwrap();
    let mut bytes = Vec::new();
    client.read_to_end(&mut bytes).await.unwrap();
    assert_eq!(bytes.len(), 40);
}

#[tokio::test]
async fn the_order_of_a_query_and_one_that_is_new_do_not_matter() {
    let asked = session(&[
        request(1, 0.0, "/job?a=1&b=2"),
        answer(1, 0.0, "{}", &[(0.0, 40)], "complete"),
    ]);
    let bench = Bench::of(asked, Matching::ByTime).await;
    for target in ["/job?b=2&a=1", "/job?now=77", "/job"] {
        assert_eq!(bench.get(target, 40).await, SMALL, "{target}");
    }
}

#[tokio::test]
async fn a_redirect_to_the_host_leads_to_the_replay() {
    let moved = session(&[
        request(1, 0.0, "/"),
        json!({ "line": "answer", "at-seconds": 0, "exchange": 1, "status": 302, "reason": "Found",
            "fields": [["Location", "http://printer.example/job"], ["Content-Length", "0"]],
            "framing": "length", "pieces": [{ "after-seconds": 0, "bytes": 82 }], "end": "complete" }),
    ]);
    let bench = Bench::of(moved, Matching::ByTime).await;
    let mut client = bench.asked("/").await;
    let mut bytes = vec![0; 300];
    let length = client.read(&mut bytes).await.unwrap();
    let text = String::from_utf8_lossy(&bytes[..length]).into_owned();
    let origin = bench.replay.url();
    assert_eq!(
        text,
        format!("HTTP/1.1 302 Found\r\nLocation: {origin}/job\r\nContent-Length: 0\r\n\r\n")
    );
}

fn events() -> Session {
    let pushed = |at: f64, text: &str| json!({ "line": "pushed", "at-seconds": at, "exchange": 1, "body": { "text": text } });
    session(&[
        request(1, 0.0, "/events"),
        json!({ "line": "stream-begun", "at-seconds": 0, "exchange": 1, "status": 200, "reason": "OK",
            "fields": [["Content-Type", "text/event-stream"]], "framing": "close", "stream": "events" }),
        pushed(0.0, "retry: 9\n\n"),
        pushed(10.0, "data: 1\n\n"),
        pushed(20.0, "data: 2\n\n"),
        json!({ "line": "stream-ended", "at-seconds": 30, "exchange": 1, "end": "complete" }),
    ])
}

#[tokio::test]
async fn who_joins_a_stream_late_gets_what_was_pushed_from_then_on() {
    let bench = Bench::of(events(), Matching::ByTime).await;
    bench.step(15.0);
    let reading = bench.ask("/events");
    let stepping = async {
        bench.served(1).await;
        bench.step(5.0);
        bench.step(10.0);
    };
    let ((bytes, end), ()) = tokio::join!(reading, stepping);
    assert!(end.is_ok());
    assert!(
        bytes.ends_with(b"\r\n\r\nretry: 9\n\ndata: 2\n\n"),
        "{}",
        String::from_utf8_lossy(&bytes)
    );
}

#[tokio::test]
async fn in_order_a_stream_is_played_from_its_beginning() {
    let bench = Bench::of(events(), Matching::InOrder).await;
    bench.step(500.0);
    let client = bench.ask("/events");
    let stepping = async {
        bench.served(1).await;
        bench.step(30.0);
    };
    let ((bytes, _), ()) = tokio::join!(client, stepping);
    assert!(bytes.ends_with(b"retry: 9\n\ndata: 1\n\ndata: 2\n\n"));
}

#[tokio::test]
async fn a_websocket_is_agreed_on_anew_rfc_6455_s1_3() {
    let live = session(&[
        request(1, 0.0, "/live"),
        json!({ "line": "stream-begun", "at-seconds": 0, "exchange": 1, "status": 101,
            "reason": "Switching Protocols", "framing": "close", "stream": "frames",
            "fields": [["Upgrade", "websocket"], ["Sec-WebSocket-Accept", "old"]] }),
        json!({ "line": "frame", "at-seconds": 0, "exchange": 1,
            "frame": { "from": "watcher", "kind": "text", "body": { "text": "subscribe" } } }),
        json!({ "line": "frame", "at-seconds": 0, "exchange": 1,
            "frame": { "from": "host", "kind": "text", "body": { "text": "Hello" } } }),
        json!({ "line": "stream-ended", "at-seconds": 0, "exchange": 1, "end": "closed" }),
    ]);
    let bench = Bench::of(live, Matching::InOrder).await;
    let mut client = bench.connect().await;
    // The key of the standard's own example, and what it is answered with.
    let asked = "GET /live HTTP/1.1\r\nUpgrade: websocket\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n";
    client.write_all(asked.as_bytes()).await.unwrap();
    let mut bytes = Vec::new();
    client.read_to_end(&mut bytes).await.unwrap();
    let text = String::from_utf8_lossy(&bytes).into_owned();
    assert!(
        text.contains("Sec-WebSocket-Accept: s3pPLMBiTxaQ9kYGzzhZRbK+xOo=\r\n"),
        "{text}"
    );
    assert!(text.ends_with("\u{fffd}\u{5}Hello"), "{text}");
}

#[tokio::test]
async fn a_session_without_an_answer_cannot_be_played() {
    let options = ReplayOptions {
        listen: "127.0.0.1:0".parse().unwrap(),
        tls: None,
        clock: Clock::paused_at(VirtualTime::ZERO),
        matching: Matching::ByTime,
        at_end: AtEnd::Repeat,
        observer: None,
    };
    let played = Replay::start(Arc::new(session(&[])), options).await;
    assert!(matches!(played, Err(ReplayError::Empty)));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn a_whole_answer_comes_back_byte_for_byte(
        text in "[ -~]{1,60}",
        chunks in proptest::collection::vec(1..20_u64, 1..4),
        cut in 1..200_u64,
    ) {
        let total: u64 = chunks.iter().sum();
        let body = text.repeat(60)[..usize::try_from(total).unwrap()].to_owned();
        let mut played = session(&[
            request(1, 0.0, "/"),
            json!({ "line": "answer", "at-seconds": 0, "exchange": 1, "status": 200, "reason": "OK",
                "fields": [["Transfer-Encoding", "chunked"]], "framing": "chunked", "chunks": chunks,
                "body": { "text": body }, "end": "closed",
                "pieces": [{ "after-seconds": 0, "bytes": cut }, { "after-seconds": 0, "bytes": 1000 }] }),
        ]);
        let expected = played.exchanges[0].answer().unwrap().bytes();
        played.upstream = None;
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let (bytes, _) = runtime.block_on(async {
            Bench::of(played, Matching::InOrder).await.ask("/").await
        });
        prop_assert_eq!(bytes, expected);
    }
}

#[tokio::test]
async fn a_whole_answer_written_by_hand_needs_no_pieces() {
    let session = session(&[
        request(1, 5.0, "/printer"),
        answer(1, 5.0, "{}", &[], "complete"),
    ]);
    let bench = Bench::of(session, Matching::InOrder).await;
    let mut stream = bench.connect().await;
    stream
        .write_all(b"GET /printer HTTP/1.1\r\nHost: a\r\n\r\n")
        .await
        .unwrap();
    let mut given = vec![0; SMALL.len()];
    stream.read_exact(&mut given).await.unwrap();
    assert_eq!(given, SMALL);
}
