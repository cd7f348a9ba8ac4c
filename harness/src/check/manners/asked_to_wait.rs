//! How a watcher treats a host that asks for a rest.

use std::time::Duration;

use coldbed_mock::fault::{Fault, RetryAfter, Scope, ScopedFault, Span};
use http::StatusCode;

use super::super::{Awaited, Check, Context, NotPlanned, Plan, Step};
use super::{MANNERS, as_usual};
use crate::oracle;

pub(in crate::check) const ASKED_TO_WAIT: &[Check] = &[
    Check {
        id: "retry-after-seconds-ignored",
        requirement: "a host that answers 503 with Retry-After in seconds is not asked again before",
        provoked: "one request is answered 503 with Retry-After of four intervals, or 3 s",
        plan: |context| {
            let wait = fair_wait(context)?;
            let form = RetryAfter::Seconds(wait.as_secs());
            Ok(Plan::of([asked_to_wait("503", UNAVAILABLE, form, wait)]))
        },
        ..RETRY_AFTER
    },
    Check {
        id: "retry-after-date-ignored",
        requirement: "a host that answers 503 with Retry-After as a date, in any of the three forms, is not asked again before",
        source: "RFC 9110 section 10.2.3; section 5.6.7: all three forms of a date have to be understood",
        provoked: "one request is answered 503 with Retry-After in four intervals, or 3 s, in each form of a date",
        plan: |context| {
            let wait = fair_wait(context)?;
            let span = Span(wait);
            let forms = [
                ("a date as of today", RetryAfter::Date(span)),
                ("a date as of RFC 850", RetryAfter::Rfc850Date(span)),
                ("a date as of asctime", RetryAfter::AsctimeDate(span)),
            ];
            Ok(Plan::of(forms.map(|(label, form)| {
                asked_to_wait(label, UNAVAILABLE, form, wait)
            })))
        },
        // A date has whole seconds.
        oracle: |trace, context| {
            let wait = wait_of(context).saturating_sub(Duration::from_secs(1));
            oracle::verify_retry_after(trace, wait)
        },
        ..RETRY_AFTER
    },
    Check {
        id: "retry-after-429-ignored",
        requirement: "a host that answers 429 with Retry-After is not asked again before",
        source: "RFC 6585 section 4; RFC 9110 section 10.2.3",
        provoked: "one request is answered 429 with Retry-After of four intervals, or 3 s",
        plan: |context| {
            let wait = fair_wait(context)?;
            let form = RetryAfter::Seconds(wait.as_secs());
            Ok(Plan::of([asked_to_wait(
                "429",
                StatusCode::TOO_MANY_REQUESTS,
                form,
                wait,
            )]))
        },
        ..RETRY_AFTER
    },
    Check {
        id: "retry-after-nonsense-obeyed",
        requirement: "a host that asks for a rest of a year by mistake is asked again within about a minute, and not at once either",
        source: "common practice: waits are capped at 60 to 300 s; somebody repairs the host and does not know of the watcher (own choice: 60 s and a tenth)",
        provoked: "the host answers 503 with Retry-After of 31 536 000 s for 3 s, which is more milliseconds than 32 bits hold",
        judged: "a good answer is fetched within 66 s and two intervals of the end of it, and meanwhile no more is asked than three times as often as usual",
        plan: |context| Ok(a_year(context)),
        oracle: |trace, _| oracle::verify_sleeps_no_year(trace),
        ..MANNERS
    },
];

const UNAVAILABLE: StatusCode = StatusCode::SERVICE_UNAVAILABLE;

const RETRY_AFTER: Check = Check {
    source: "RFC 9110 section 10.2.3",
    judged: "the time from that answer to the next request for the same",
    oracle: |trace, context| oracle::verify_retry_after(trace, wait_of(context)),
    ..MANNERS
};

/// Longer than this nobody has to let a host make it wait (common practice: waits are capped at 60 to
/// 300 s).
const LONGEST_FAIR: Duration = Duration::from_secs(60);

/// Gives a wait that a watcher does not keep by chance: twice what a first back-off takes, in whole
/// seconds.
fn wait_of(context: &Context) -> Duration {
    let seconds = (4.0 * context.timing.interval.as_secs_f64())
        .ceil()
        .max(3.0);
    Duration::from_secs_f64(seconds)
}

fn fair_wait(context: &Context) -> Result<Duration, NotPlanned> {
    let wait = wait_of(context);
    if wait <= LONGEST_FAIR {
        return Ok(wait);
    }
    Err(NotPlanned(format!(
        "it asks only every {:.0} s: only a wait of more than {} s would show, and nobody has to keep that",
        context.timing.interval.as_secs_f64(),
        LONGEST_FAIR.as_secs()
    )))
}

fn asked_to_wait(label: &str, code: StatusCode, form: RetryAfter, wait: Duration) -> Step {
    let fault = ScopedFault {
        fault: Fault::Status {
            code,
            retry_after: Some(form),
        },
        scope: Scope::times(1),
    };
    Step::Trial {
        label: label.to_owned(),
        steps: vec![
            as_usual(2),
            Step::RaiseFault(fault),
            Step::Await {
                what: Awaited::Requests(1),
                within: wait + Duration::from_secs(5),
            },
            Step::Wait(wait + Duration::from_millis(300)),
        ],
    }
}

fn a_year(context: &Context) -> Plan {
    const YEAR_S: u64 = 365 * 24 * 3600;
    let fault = Fault::Status {
        code: UNAVAILABLE,
        retry_after: Some(RetryAfter::Seconds(YEAR_S)),
    };
    let longest = context.timing.longest_interval;
    let steps = vec![
        as_usual(2),
        Step::RaiseFault(fault.into()),
        Step::Await {
            what: Awaited::Requests(1),
            within: 3 * longest + Duration::from_secs(2),
        },
        Step::Wait(Duration::from_secs(3)),
        Step::ClearFaults,
        Step::Await {
            what: Awaited::Answers(1),
            within: oracle::YEAR_ENDS_WITHIN + 3 * longest + Duration::from_secs(1),
        },
    ];
    // As a trial, so that its end is told also if nothing happens any more.
    let label = "a year".to_owned();
    Plan::of([Step::Trial { label, steps }])
}
