//! Faults of event streams, seen byte by byte.
//!
//! # Source
//! WHATWG HTML, "Server-sent events"; RFC 9112 section 7.1 (the last chunk).

use std::time::Duration;

use super::common::{Bench, Client};
use super::push_stream::{event, follow};
use crate::fault::{Fault, Scope, ScopedFault};

const QUICK: &str = r#"{ form = "server-sent-events", period-ms = 10 }"#;
const CALM: &str = r#"{ form = "server-sent-events", period-ms = 500, keep-alive-s = 5 }"#;
const PATCHES: &str =
    r#"{ form = "server-sent-events", period-ms = 10, messages = "merge-patch" }"#;

/// Longer than any timer of a stream here.
const LONG: Duration = Duration::from_secs(120);

pub(super) fn times(fault: Fault, count: u64) -> ScopedFault {
    let scope = Scope::times(count);
    ScopedFault { fault, scope }
}

/// Gives how often a fault that is the only one raised has happened, as the board and as the observer
/// counted it.
pub(super) fn happened(bench: &Bench) -> (u64, usize) {
    let told = bench
        .notes
        .count(|event| event.starts_with("FaultHappened"));
    (bench.host.faults().raised()[0].happened, told)
}

/// Reads the next chunk, its marks included.
async fn chunk(client: &mut Client) -> String {
    let size = client.until(b"\r\n").await;
    let data = client.until(b"\r\n").await;
    assert_eq!(usize::from_str_radix(size.trim(), 16), Ok(data.len() - 2));
    data
}

/// Begins a stream and reads its head.
async fn begin(bench: &Bench) -> Client {
    let mut client = bench.connect().await;
    client.send("GET /printer/events").await;
    client.until(b"\r\n\r\n").await;
    client
}

#[tokio::test(start_paused = true)]
async fn in_silence_not_a_byte_comes_and_then_the_present_state_does() {
    let bench = Bench::pushing(CALM).await;
    let mut client = begin(&bench).await;
    assert_eq!(chunk(&mut client).await, "retry: 2000\n\n\r\n");
    assert!(chunk(&mut client).await.starts_with("id: 72000\n"));
    let guard = bench.host.faults().raise(Fault::SilentStream);
    for _ in 0..2 {
        assert!(client.is_quiet(LONG).await);
        bench.step();
    }
    assert!(client.is_quiet(LONG).await);
    drop(guard);
    let present = bench.ask("GET /printer").await.body;
    let expected = format!("id: 72020\ndata: {present}\n\n\r\n");
    assert_eq!(chunk(&mut client).await, expected);
    // Who comes back is sent what was kept back, one by one.
    let mut back = follow(&bench, "\nLast-Event-ID: 72000").await;
    assert_eq!(event(&mut back).await.id, 72010);
    assert_eq!(event(&mut back).await.id, 72020);
    // The comments come in their time again, and nothing else does.
    assert_eq!(chunk(&mut client).await, ": still here\n\n\r\n");
}

#[tokio::test(start_paused = true)]
async fn a_stream_begun_in_silence_has_its_head_and_nothing_more_until_it_is_over() {
    let bench = Bench::pushing(CALM).await;
    let guard = bench.host.faults().raise(Fault::SilentStream);
    let mut client = begin(&bench).await;
    assert!(client.is_quiet(LONG).await);
    drop(guard);
    assert_eq!(chunk(&mut client).await, "retry: 2000\n\n\r\n");
    assert!(chunk(&mut client).await.starts_with("id: 72000\n"));
}

#[tokio::test(start_paused = true)]
async fn a_silence_that_lasts_ends_by_the_hosts_clock() {
    let bench = Bench::pushing(CALM).await;
    let mut client = begin(&bench).await;
    chunk(&mut client).await;
    chunk(&mut client).await;
    let mut silence = ScopedFault::from(Fault::SilentStream);
    silence.scope.lasts = Some(crate::fault::Span::from_secs(30));
    let _guard = bench.host.faults().raise(silence);
    bench.host.clock().step(Duration::from_secs(29));
    assert!(client.is_quiet(LONG).await);
    bench.step();
    assert!(chunk(&mut client).await.starts_with("id: 72300\n"));
}

#[tokio::test]
async fn a_stream_is_ended_in_order_and_its_connection_goes_on() {
    let bench = Bench::pushing(QUICK).await;
    let mut client = begin(&bench).await;
    chunk(&mut client).await;
    chunk(&mut client).await;
    let guard = bench
        .host
        .faults()
        .raise(Fault::StreamClosed { code: None });
    assert_eq!(client.take(5).await, b"0\r\n\r\n");
    client.send("GET /printer/events").await;
    let head = client.until(b"\r\n\r\n").await;
    assert!(head.starts_with("HTTP/1.1 200 OK\r\n"), "{head}");
    let whole = b"D\r\nretry: 2000\n\n\r\n0\r\n\r\n";
    assert_eq!(client.take(whole.len()).await, whole);
    assert_eq!(client.ask("GET /job").await.status, 200);
    drop(guard);
    let mut again = follow(&bench, "").await;
    assert_eq!(event(&mut again).await.id, 72000);
}

#[tokio::test]
async fn only_the_streams_in_scope_are_ended() {
    let bench = Bench::pushing(QUICK).await;
    let mut one = follow(&bench, "").await;
    let mut other = follow(&bench, "").await;
    event(&mut one).await;
    event(&mut other).await;
    let mut closed = ScopedFault::from(Fault::StreamClosed { code: None });
    closed.scope.connection = Some(2);
    let _guard = bench.host.faults().raise(closed);
    other.until(b"\r\n0\r\n\r\n").await;
    bench.step();
    assert_eq!(event(&mut one).await.id, 72010);
}

#[tokio::test]
async fn a_missed_message_leaves_a_gap_in_the_ids() {
    let bench = Bench::pushing(QUICK).await;
    let mut client = follow(&bench, "").await;
    event(&mut client).await;
    let _guard = bench.host.faults().raise(times(Fault::MissedMessages, 1));
    bench.step();
    bench.notes.wait_for("FaultHappened", 1).await;
    bench.step();
    let next = event(&mut client).await;
    assert_eq!(next.id, 72020);
    assert_eq!(next.data, bench.ask("GET /printer").await.body);
    assert_eq!(happened(&bench), (1, 1));
    // The host has it still for who asks.
    let mut back = follow(&bench, "\nLast-Event-ID: 72000").await;
    assert_eq!(event(&mut back).await.id, 72010);
}

#[tokio::test]
async fn a_missed_patch_leaves_its_reader_with_a_wrong_state() {
    let bench = Bench::pushing(PATCHES).await;
    let mut client = follow(&bench, "").await;
    let json = |text: &str| serde_json::from_str::<serde_json::Value>(text).unwrap();
    let mut state = json(&event(&mut client).await.data);
    let _guard = bench.host.faults().raise(times(Fault::MissedMessages, 1));
    assert_eq!(bench.ask("POST /job/pause").await.status, 200);
    bench.notes.wait_for("FaultHappened", 1).await;
    let seen_by_host = bench.ask("GET /printer").await.json();
    assert_ne!(seen_by_host["printer-state"], state["printer-state"]);
    let before = state["printer-state"].clone();
    bench.step();
    json_patch::merge(&mut state, &json(&event(&mut client).await.data));
    let present = bench.ask("GET /printer").await.json();
    assert_eq!(state["printer-up-time"], present["printer-up-time"]);
    // What the lost patch said is not said again.
    assert_eq!(state["printer-state"], before);
    assert_ne!(present["printer-state"], before);
}

#[tokio::test]
async fn a_repeated_message_comes_twice_byte_for_byte() {
    let bench = Bench::pushing(QUICK).await;
    let mut client = begin(&bench).await;
    chunk(&mut client).await;
    chunk(&mut client).await;
    let _guard = bench.host.faults().raise(times(Fault::RepeatedMessages, 1));
    bench.step();
    let first = chunk(&mut client).await;
    assert!(first.starts_with("id: 72010\n"), "{first}");
    assert_eq!(chunk(&mut client).await, first);
    bench.step();
    assert!(chunk(&mut client).await.starts_with("id: 72020\n"));
    assert_eq!(happened(&bench), (1, 1));
    let told = bench.notes.count(|event| event.starts_with("PushSent"));
    assert_eq!(told, 5, "the reconnection time and four events");
}

#[tokio::test]
async fn repeated_ids_are_that_of_the_message_sent_before_the_fault() {
    let bench = Bench::pushing(QUICK).await;
    let guard = bench.host.faults().raise(Fault::RepeatedIds);
    let mut client = follow(&bench, "").await;
    let first = event(&mut client).await;
    assert_eq!(happened(&bench), (0, 0), "there is no id before the first");
    let mut data = vec![first.data];
    for _ in 0..2 {
        bench.step();
        let next = event(&mut client).await;
        assert_eq!(next.id, 72000);
        data.push(next.data);
    }
    data.dedup();
    assert_eq!(data.len(), 3);
    assert_eq!(happened(&bench), (2, 2));
    drop(guard);
    bench.step();
    assert_eq!(event(&mut client).await.id, 72030);
}

#[tokio::test]
async fn a_fault_of_answers_is_left_for_the_next_request_by_a_stream_under_way() {
    let bench = Bench::pushing(QUICK).await;
    let mut client = follow(&bench, "").await;
    event(&mut client).await;
    let down = Fault::status(http::StatusCode::SERVICE_UNAVAILABLE);
    let _guard = bench.host.faults().raise(times(down, 1));
    bench.step();
    assert_eq!(event(&mut client).await.id, 72010);
    assert_eq!(bench.ask("GET /printer").await.status, 503);
    assert_eq!(happened(&bench), (1, 1));
}

#[tokio::test(start_paused = true)]
async fn a_stream_under_way_freezes_as_often_as_it_is_frozen() {
    let bench = Bench::pushing(CALM).await;
    let mut client = begin(&bench).await;
    chunk(&mut client).await;
    chunk(&mut client).await;
    for id in [72010, 72020] {
        let guard = bench.host.faults().raise(Fault::Frozen);
        // A look, so that it is this state that is shown from now on.
        assert!(client.is_quiet(Duration::from_secs(1)).await);
        bench.step();
        assert!(client.is_quiet(Duration::from_secs(2)).await);
        drop(guard);
        let next = chunk(&mut client).await;
        assert!(next.starts_with(&format!("id: {id}\n")), "{next}");
    }
}
