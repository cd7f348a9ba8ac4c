//! Asking while all is well.

use super::*;
use coldbed_mock::fault::{Fault, Position};

fn posted_twice(method: &str, apart_ms: u64) -> Verdict {
    let lost = EventKind::FaultHappened {
        connection: 1000,
        exchange: Some(1000),
        fault: Arc::new(Fault::reset_at(Position::Start).into()),
    };
    Run::default()
        .request(1000, method, "/seen", &[])
        .note(1001, lost)
        .request(1000 + apart_ms, method, "/seen", &[])
        .judge(verify_nothing_unsafe_retried)
}

#[test]
fn a_post_whose_answer_was_lost_is_not_repeated_and_a_put_may_be() {
    let again = "POST /seen again 0.02 s after its answer was lost";
    assert_violated(&posted_twice("POST", 20), again);
    // The next poll.
    assert_held(&posted_twice("POST", 1000));
    assert_not_judged(&posted_twice("PUT", 20));
    assert_not_judged(&posted_twice("GET", 20));
}

fn tagged(second: &[(&str, &str)], answer: &[(&str, &str)]) -> Verdict {
    let run = Run::default().get(0).status(1, 0, 200, answer);
    (1..5)
        .fold(run, |run, n| {
            run.request(n * 1000, "GET", "/printer", second).status(
                n * 1000 + 1,
                n * 1000,
                200,
                answer,
            )
        })
        .judge(verify_asks_conditionally)
}

#[test]
fn a_tag_is_sent_back_weak_or_strong_and_owed_only_where_it_may_be_kept() {
    let tag = ("ETag", "\"a1\"");
    assert_held(&tagged(&[("if-none-match", "\"a1\"")], &[tag]));
    assert_held(&tagged(
        &[("if-none-match", "\"a1\"")],
        &[("etag", "W/\"a1\"")],
    ));
    let never = "4 requests after an answer with an ETag, none with If-None-Match";
    assert_violated(&tagged(&[], &[tag]), never);
    assert_violated(&tagged(&[("if-none-match", "\"old\"")], &[tag]), never);
    assert_not_judged(&tagged(&[], &[tag, ("cache-control", "no-store")]));
    assert_not_judged(&tagged(&[], &[]));
}

fn not_modified(line_after: &str) -> Verdict {
    let truth = a_truth();
    let phase = format!("{{\"phase\":\"{}\"}}", truth.phase);
    let run = Run::default().poll(0, &truth, &phase);
    (1..8)
        .fold(run, |run, n| {
            run.status(n * 1000, n * 1000, 304, &[]).claim(
                n * 1000 + 10,
                if line_after.is_empty() {
                    &phase
                } else {
                    line_after
                },
            )
        })
        .judge(verify_not_modified)
}

#[test]
fn after_304_the_body_that_was_kept_is_true() {
    assert_held(&not_modified(""));
    let feared = "unknown after 7 of 7 answers 304";
    assert_violated(&not_modified(r#"{"phase":"unknown"}"#), feared);
    assert_violated(&not_modified(r#"{"phase":"cancelled"}"#), "phase cancelled");
    let never = Run::default().poll(0, &a_truth(), r#"{"phase":"heating"}"#);
    assert_not_judged(&never.judge(verify_not_modified));
}

/// A poll a second on a connection of its own; each is closed 100 ms later, if at all.
fn a_connection_a_poll(closed: bool) -> Verdict {
    (0..14_u64)
        .fold(Run::default(), |run, n| {
            let connection = n * 1000;
            let run = run
                .note(n * 1000, EventKind::ConnectionOpened { connection })
                .get(n * 1000);
            if closed {
                run.note(n * 1000 + 100, EventKind::ConnectionClosed { connection })
            } else {
                run
            }
        })
        .judge(verify_connections_do_not_pile_up)
}

#[test]
fn connections_that_are_closed_do_not_pile_up_and_others_do() {
    assert_held(&a_connection_a_poll(true));
    // Six that a browser keeps, and one more.
    assert_violated(&a_connection_a_poll(false), "8 after 8 requests");
    assert_not_judged(&Run::default().judge(verify_connections_do_not_pile_up));
}

#[test]
fn five_times_a_second_is_often_enough() {
    let every = |ms: u64| {
        Run::default()
            .get_all((0..10).map(|n| n * ms))
            .judge(|trace| verify_asks_no_more_than(trace, Duration::from_millis(200)))
    };
    assert_held(&every(200));
    assert_violated(&every(50), "one every 0.050 s");
    let once = Run::default().get(0);
    assert_not_judged(&once.judge(|trace| verify_asks_no_more_than(trace, SECOND)));
}

#[test]
fn every_request_says_who_asks() {
    let by = |headers: &[(&str, &str)]| {
        let run = Run::default().request(0, "GET", "/printer", &[("user-agent", "desk/1")]);
        run.request(1000, "GET", "/job", headers)
            .judge(verify_says_who_asks)
    };
    assert_held(&by(&[("user-agent", "desk/1")]));
    assert_violated(&by(&[]), "none with GET /job");
    assert_violated(&by(&[("user-agent", " ")]), "none with GET /job");
    assert_not_judged(&Run::default().judge(verify_says_who_asks));
}
