//! How a watcher asks while all is well.

use std::time::Duration;

use coldbed_mock::fault::{Fault, Position, Scope, ScopedFault};
use coldbed_mock::sim::VirtualTime;
use http::StatusCode;

use super::super::{Awaited, Check, Context, Field, Level, Plan, Step};
use super::{MANNERS, as_usual};
use crate::oracle;

pub(in crate::check) const ASKING: &[Check] = &[
    Check {
        id: "unsafe-request-retried",
        level: Level::Must,
        requirement: "a request that may have changed something is not sent again by itself when its answer is lost",
        source: "RFC 9110 section 9.2.2",
        provoked: "the connection is reset, and closed, instead of each answer for some polls",
        judged: "no POST or PATCH without an answer is followed by an equal one within half the measured interval, and a second at most",
        plan: |context| Ok(lost_answers(context)),
        oracle: |trace, _| oracle::verify_nothing_unsafe_retried(trace),
        ..MANNERS
    },
    Check {
        id: "body-fetched-again-unchanged",
        requirement: "where the host tags its answers, the watcher asks with If-None-Match",
        source: "RFC 9110 section 13.1.2",
        provoked: "the printer stands still for eight answers, which have an ETag",
        judged: "some request after an answer with an ETag names that tag; answers with no-store do not count",
        plan: |_| Ok(standing_still(8)),
        oracle: |trace, _| oracle::verify_asks_conditionally(trace),
        ..MANNERS
    },
    Check {
        id: "not-modified-taken-for-no-answer",
        level: Level::Must,
        requirement: "304 says that the body kept is true now: what it says stays claimed, and is replaced by the next 200",
        source: "RFC 9110 section 15.4.5",
        provoked: "the printer stands still for six answers, goes on, and stands still again",
        judged: "each claim is held against the answers it may rest on, of which 304 is one",
        needs: Field::Anything,
        plan: |_| Ok(standing_still_and_going_on()),
        oracle: |trace, _| oracle::verify_not_modified(trace),
        ..MANNERS
    },
    Check {
        id: "connections-left-open",
        level: Level::Must,
        requirement: "connections do not pile up from poll to poll",
        source: "RFC 9112 section 9.4: a client limits how many connections it has open at once; six are what a browser keeps (common practice)",
        provoked: "the watcher is answered as usual fourteen times",
        judged: "how many connections it has open at the host at once; whether it uses one again is only noted",
        plan: |_| Ok(Plan::of([as_usual(14)])),
        oracle: |trace, _| oracle::verify_connections_do_not_pile_up(trace),
        ..MANNERS
    },
    Check {
        id: "connections-left-open-after-errors",
        level: Level::Must,
        requirement: "connections do not pile up from one error to the next",
        source: "RFC 9112 section 9.4; common practice: an answer with an error has to be read or closed like any other",
        provoked: "ten times one request is answered 500, and the next as usual",
        judged: "how many connections it has open at the host at once",
        plan: |context| Ok(errors_now_and_then(context)),
        oracle: |trace, _| oracle::verify_connections_do_not_pile_up(trace),
        ..MANNERS
    },
    Check {
        id: "asks-far-too-often",
        requirement: "the watcher asks no more than five times a second",
        source: "common practice: a display on a wall asks every 1 to 5 s; a fifth of that is far too often (own choice)",
        provoked: "the watcher is answered as usual, idle and printing, at its own pace",
        judged: "the mean time between two requests for the target asked for most",
        plan: |_| Ok(Plan::stretch(Duration::ZERO, Duration::from_secs(40), 12)),
        oracle: |trace, _| oracle::verify_asks_no_more_than(trace, FASTEST),
        ..MANNERS
    },
    Check {
        id: "user-agent-missing",
        requirement: "each request says by its User-Agent who asks",
        source: "RFC 9110 section 10.1.5",
        provoked: "the watcher is answered as usual four times",
        judged: "the field is there and not empty in each request",
        plan: |_| Ok(Plan::of([as_usual(4)])),
        oracle: |trace, _| oracle::verify_says_who_asks(trace),
        ..MANNERS
    },
];

const FASTEST: Duration = Duration::from_millis(200);

fn lost_answers(context: &Context) -> Plan {
    let lasts =
        (3 * context.timing.interval).clamp(Duration::from_secs(2), Duration::from_secs(60));
    let trial = |label: &str, fault: Fault| Step::Trial {
        label: label.to_owned(),
        steps: vec![
            as_usual(2),
            Step::RaiseFault(fault.into()),
            Step::Wait(lasts),
        ],
    };
    let at = Position::Start;
    Plan::of([
        trial("the answer is lost to a reset", Fault::Reset { at }),
        trial(
            "the connection is closed instead of the answer",
            Fault::Close { at },
        ),
    ])
}

fn glimpse(at_s: u64, answers: usize) -> Step {
    Step::Glimpse {
        at: VirtualTime::new(Duration::from_secs(at_s)),
        answers,
    }
}

fn standing_still(answers: usize) -> Plan {
    Plan::of([glimpse(600, answers)])
}

fn standing_still_and_going_on() -> Plan {
    let going_on = Step::Visit {
        from: Some(VirtualTime::new(Duration::from_secs(900))),
        per_poll: Duration::from_secs(20),
        answers: 3,
    };
    Plan::of([glimpse(600, 6), going_on, glimpse(1500, 6)])
}

fn errors_now_and_then(context: &Context) -> Plan {
    let within = 10 * context.timing.longest_interval + Duration::from_secs(5);
    let error = ScopedFault {
        fault: Fault::status(StatusCode::INTERNAL_SERVER_ERROR),
        scope: Scope::times(1),
    };
    let now_and_then = (0..10).flat_map(|_| {
        let wait_for = |what| Step::Await { what, within };
        [
            Step::RaiseFault(error.clone()),
            wait_for(Awaited::Requests(1)),
            wait_for(Awaited::Answers(1)),
            Step::ClearFaults,
        ]
    });
    Plan::of(std::iter::once(as_usual(2)).chain(now_and_then))
}
