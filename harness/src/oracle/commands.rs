//! What is asked of the printer is asked once.

use std::time::Duration;

use super::{Trace, Verdict};
use crate::event::{Event, EventKind};

/// Verifies that a command that was given leads to one unsafe request, and to no second one, also if
/// the answer to the first is lost or a refusal.
///
/// One that cannot have been carried out may be sent again: the host answered 429 or 503 to it.
///
/// # Source
/// RFC 9110 section 9.2.2: a client should not repeat a request with a method that is not idempotent
/// by itself, unless it can tell that the first was not carried out. Section 9.2.1: safe methods.
pub fn verify_command_once(trace: &Trace<'_>) -> Verdict {
    trace.verify_alive().and_then(|| after_the_command(trace))
}

fn after_the_command(trace: &Trace<'_>) -> Verdict {
    let given = trace
        .events
        .iter()
        .position(|event| matches!(event.kind, EventKind::CommandGiven { .. }));
    let Some(given) = given else {
        return Verdict::NotJudged {
            reason: "no command was given".to_owned(),
        };
    };
    let after = &trace.events[given..];
    let sent: Vec<Sent<'_>> = after.iter().filter_map(unsafe_request).collect();
    let Some(first) = sent.first() else {
        let waited = trace.end.saturating_sub(after[0].at).as_secs_f64();
        let allowed = "one request that is not safe, for the command that was given";
        return Verdict::violated(trace.end, allowed, format!("none in {waited:.1} s"));
    };
    let mut pending = first;
    for again in &sent[1..] {
        if again.same_as(pending) && !is_put_off(after, pending.exchange) {
            return Verdict::violated(
                again.at,
                format!("{} {} once", pending.method, pending.target),
                format!(
                    "again {:.1} s later{}",
                    (again.at - pending.at).as_secs_f64(),
                    answer_words(after, pending.exchange)
                ),
            );
        }
        pending = again;
    }
    Verdict::Held {
        note: format!("{} {} was sent once", first.method, first.target),
    }
}

/// Is a request whose method is not safe.
struct Sent<'a> {
    at: Duration,
    exchange: u64,
    method: &'a str,
    target: &'a str,
}

impl Sent<'_> {
    fn same_as(&self, other: &Self) -> bool {
        self.method == other.method && self.target == other.target
    }
}

fn unsafe_request(event: &Event) -> Option<Sent<'_>> {
    let EventKind::Request {
        exchange,
        method,
        target,
        ..
    } = &event.kind
    else {
        return None;
    };
    const SAFE: [&str; 4] = ["GET", "HEAD", "OPTIONS", "TRACE"];
    (!SAFE.contains(&method.as_str())).then_some(Sent {
        at: event.at,
        exchange: *exchange,
        method,
        target,
    })
}

fn status_of(events: &[Event], wanted: u64) -> Option<u16> {
    events.iter().find_map(|event| match event.kind {
        EventKind::Answer {
            exchange, status, ..
        } if exchange == wanted => Some(status),
        _ => None,
    })
}

/// Tells whether the host said that it did not carry the request out, and that it may be sent again.
fn is_put_off(events: &[Event], exchange: u64) -> bool {
    matches!(status_of(events, exchange), Some(429 | 503))
}

fn answer_words(events: &[Event], wanted: u64) -> String {
    let is_lost = events.iter().any(|event| match event.kind {
        EventKind::FaultHappened { exchange, .. } => exchange == Some(wanted),
        _ => false,
    });
    match status_of(events, wanted) {
        _ if is_lost => {
            ", though the first may have been carried out: its answer was lost".to_owned()
        }
        Some(status) => format!(", though the first was answered with {status}"),
        None => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use bytes::Bytes;
    use coldbed_mock::fault::{Fault, Position};

    use super::*;
    use crate::oracle::Timing;

    const TIMING: Timing = Timing {
        interval: Duration::from_secs(1),
        longest_interval: Duration::from_secs(1),
        longest_idle_interval: Duration::from_secs(1),
        longest_claim_gap: Duration::from_secs(1),
        harness_delay: Duration::ZERO,
    };

    fn at(second: u64, kind: EventKind) -> Event {
        Event {
            at: Duration::from_secs(second),
            kind,
        }
    }

    fn given() -> Event {
        let command = "pause".to_owned();
        at(1, EventKind::CommandGiven { command })
    }

    fn post(second: u64) -> Event {
        at(
            second,
            EventKind::Request {
                connection: 1,
                exchange: second,
                method: "POST".to_owned(),
                target: "/job/pause".to_owned(),
                headers: Vec::new(),
                body: Bytes::new(),
            },
        )
    }

    fn answered(second: u64, status: u16) -> Event {
        let scenario = crate::check::scenario("heat-up");
        let mut printer = coldbed_mock::sim::Simulation::new(scenario, 1);
        at(
            second,
            EventKind::Answer {
                exchange: second,
                status,
                headers: Vec::new(),
                body: Bytes::new(),
                truth: Arc::new(printer.truth_at(coldbed_mock::sim::VirtualTime::ZERO)),
            },
        )
    }

    fn lost(second: u64) -> Event {
        at(
            second,
            EventKind::FaultHappened {
                connection: 1,
                exchange: Some(second),
                fault: Arc::new(Fault::reset_at(Position::Start).into()),
            },
        )
    }

    fn judge(events: &[Event]) -> Verdict {
        verify_command_once(&Trace::new(events, TIMING))
    }

    #[test]
    fn one_request_for_one_command_is_right_and_none_or_two_are_not() {
        let once = [given(), post(2), answered(2, 204)];
        assert!(matches!(judge(&once), Verdict::Held { .. }));
        let never = [given(), at(9, EventKind::FaultCleared)];
        assert!(matches!(judge(&never), Verdict::Violated(_)));
        let twice = [given(), post(2), answered(2, 204), post(3)];
        assert!(matches!(judge(&twice), Verdict::Violated(_)));
    }

    #[test]
    fn a_lost_answer_is_no_reason_to_ask_again_and_the_verdict_says_so() {
        let repeated = [given(), post(2), answered(2, 204), lost(2), post(4)];
        let Verdict::Violated(violations) = judge(&repeated) else {
            panic!("it was sent twice");
        };
        assert_eq!(
            violations[0].observed,
            "again 2.0 s later, though the first may have been carried out: its answer was lost"
        );
    }

    #[test]
    fn what_the_host_put_off_may_be_sent_again() {
        let put_off = [
            given(),
            post(2),
            answered(2, 503),
            post(5),
            answered(5, 204),
        ];
        assert!(matches!(judge(&put_off), Verdict::Held { .. }));
        let refused = [given(), post(2), answered(2, 409), post(5)];
        assert!(matches!(judge(&refused), Verdict::Violated(_)));
    }
}
