//! Streams of events beyond their beginning.
//!
//! # Source
//! WHATWG HTML, "Server-sent events".

use super::common::{Bench, Client};

const QUICK: &str = r#"{ form = "server-sent-events", period-ms = 10 }"#;

/// Is an event as a client reads it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Event {
    pub(super) name: Option<String>,
    pub(super) id: u64,
    pub(super) data: String,
}

/// Begins a stream: reads its head and the reconnection time.
pub(super) async fn follow(bench: &Bench, fields: &str) -> Client {
    let mut client = bench.connect().await;
    client.send(&format!("GET /printer/events{fields}")).await;
    let head = client.until(b"\r\n\r\n").await;
    assert!(head.starts_with("HTTP/1.1 200 "), "{head}");
    client.until(b"retry: 2000\n\n").await;
    client
}

/// Reads the next event; comments are dropped.
pub(super) async fn event(client: &mut Client) -> Event {
    loop {
        let text = client.until(b"\n\n").await;
        // The marks of the chunks stand before it (RFC 9112 section 7.1).
        let lines = || text.lines().map(|line| line.trim_end_matches('\r'));
        let field = |name: &str| {
            let found = lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(": "));
            found.map(str::to_owned)
        };
        if let Some(data) = field("data") {
            return Event {
                name: field("event"),
                id: field("id").unwrap().parse().unwrap(),
                data,
            };
        }
    }
}

#[tokio::test]
async fn events_have_the_name_that_the_dialect_gives_them() {
    let push = r#"{ form = "server-sent-events", period-ms = 10, event = "printer" }"#;
    let bench = Bench::pushing(push).await;
    let mut client = follow(&bench, "").await;
    assert_eq!(event(&mut client).await.name.as_deref(), Some("printer"));
}

#[tokio::test]
async fn at_every_period_an_event_comes_although_nothing_has_changed() {
    let push = r#"{ form = "server-sent-events", period-ms = 10, on = "period" }"#;
    let bench = Bench::pushing(push).await;
    let mut client = follow(&bench, "").await;
    let first = event(&mut client).await;
    for _ in 0..5 {
        assert_eq!(event(&mut client).await, first);
    }
}

#[tokio::test]
async fn all_who_follow_are_sent_the_same_bytes() {
    let bench = Bench::pushing(QUICK).await;
    let mut one = follow(&bench, "").await;
    let mut other = follow(&bench, "").await;
    for _ in 0..5 {
        assert_eq!(event(&mut one).await, event(&mut other).await);
        bench.step();
    }
}

#[tokio::test]
async fn who_comes_back_gets_exactly_the_events_it_missed() {
    let bench = Bench::pushing(QUICK).await;
    let mut steady = follow(&bench, "").await;
    let mut shown = vec![event(&mut steady).await];
    for _ in 0..5 {
        bench.step();
        shown.push(event(&mut steady).await);
    }
    let mut back = follow(&bench, &format!("\nLast-Event-ID: {}", shown[1].id)).await;
    for missed in &shown[2..] {
        assert_eq!(event(&mut back).await, *missed);
    }
    bench.step();
    let next = event(&mut steady).await;
    assert!(next.id > shown[5].id);
    assert_eq!(event(&mut back).await, next);
}

#[tokio::test]
async fn who_comes_back_and_missed_nothing_gets_only_what_is_new() {
    let bench = Bench::pushing(QUICK).await;
    let first = event(&mut follow(&bench, "").await).await;
    let mut back = follow(&bench, &format!("\nLast-Event-ID: {}", first.id)).await;
    // Another who follows from now on shows that looks have been made meanwhile.
    let mut other = follow(&bench, "").await;
    assert_eq!(event(&mut other).await.id, first.id);
    bench.step();
    let next = event(&mut other).await;
    assert_eq!(event(&mut back).await, next);
}

#[tokio::test]
async fn who_comes_back_with_a_number_not_known_here_gets_the_present_state() {
    let bench = Bench::pushing(QUICK).await;
    let mut steady = follow(&bench, "").await;
    event(&mut steady).await;
    bench.step();
    let present = event(&mut steady).await;
    for number in ["17", "999999999", "-1", "x"] {
        let mut back = follow(&bench, &format!("\nLast-Event-ID: {number}")).await;
        assert_eq!(event(&mut back).await, present, "{number}");
    }
}

#[tokio::test(start_paused = true)]
async fn comments_come_in_their_own_time_also_when_looks_are_rare() {
    let push = r#"{ form = "server-sent-events", period-ms = 3600000, keep-alive-s = 5 }"#;
    let bench = Bench::pushing(push).await;
    let mut client = bench.connect().await;
    client.send("GET /printer/events").await;
    client.until_patiently(b"data: ").await;
    let before = tokio::time::Instant::now();
    client.until_patiently(b": still here\n\n").await;
    let waited = before.elapsed().as_secs();
    assert!((5..10).contains(&waited), "{waited} s");
}
