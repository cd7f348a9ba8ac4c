//! How a watcher treats a host that is in trouble.

use std::time::Duration;

use coldbed_mock::dialect::AuthScheme;
use coldbed_mock::fault::{Fault, Position};
use http::StatusCode;

use super::super::{Check, Context, Level, NotPlanned, Outage, Plan, Setup, Step};
use super::{MANNERS, as_usual};
use crate::oracle;

pub(in crate::check) const WHILE_DOWN: &[Check] = &[
    Check {
        id: "hammers-while-down",
        level: Level::Must,
        requirement: "while the host fails, the watcher asks no more than three times as often as it does anyway",
        source: "RFC 9110 section 9.2.2: a failed automatic retry is not retried automatically; three times are a poll and two repeats of a library's own (common practice)",
        provoked: "the host answers 503, resets each connection, and takes the key for wrong, each for some polls",
        judged: "requests for the target asked for most, against the time the trouble lasted and the measured interval; one a second is nobody's hammering",
        plan: |context| Ok(hammering(context)),
        oracle: |trace, _| oracle::verify_no_hammering(trace),
        ..MANNERS
    },
    Check {
        id: "does-not-back-off-while-down",
        requirement: "the longer the host fails, the more rarely the watcher asks: over twelve intervals at most seven tenths as often as usual",
        source: "common practice: waits of 1, 2, 4 and more seconds, up to 60 to 300 s",
        provoked: "the host answers 503, and resets each connection, each for twelve polls",
        judged: "requests for the target asked for most, against those the measured interval would give",
        plan: |context| match context.timing.interval {
            rare if rare >= RARE_ENOUGH => Err(NotPlanned(format!(
                "it asks only every {:.0} s, which is rare enough for a host that is down",
                rare.as_secs_f64()
            ))),
            _ => Ok(backing_off(context)),
        },
        oracle: |trace, _| oracle::verify_backs_off(trace),
        ..MANNERS
    },
    Check {
        id: "gives-up-after-long-outage",
        level: Level::Must,
        requirement: "however long the host was away, the watcher asks again by itself, after no more than twice the time it was away for, or 300 s",
        source: "common practice: waits double up to 60 to 300 s; a watcher that has to be restarted by hand is no watcher",
        provoked: "the host answers 503 for twenty polls, and then is well again",
        judged: "no time between two requests is longer than twice what the outage had lasted until then, the one after its end included",
        plan: |context| Ok(long_outage(context)),
        oracle: |trace, _| oracle::verify_asks_again(trace),
        ..MANNERS
    },
    Check {
        id: "herd-after-outage",
        requirement: "watchers that lost their host at the same time do not all come back in the same moment",
        source: "common practice: waits are drawn at random in part; RFC 6455 section 7.2.3 asks the same of reconnecting",
        provoked: "six of the same watcher are started together, and the host answers 503 to all of them for ten polls",
        judged: "of the first six requests after it, not all but one lie within a tenth of the measured interval, or 50 ms",
        plan: |context| Ok(herd(context)),
        oracle: |trace, _| oracle::verify_no_herd(trace, HERD),
        ..MANNERS
    },
];

/// So seldom a host can be asked however it feels (own choice; a battery gadget asks every 30 s).
const RARE_ENOUGH: Duration = Duration::from_secs(10);

/// How many watchers there are (own choice: so few that a machine bears them, so many that they
/// hardly meet by chance).
const HERD: usize = 6;

fn unavailable() -> Fault {
    Fault::status(StatusCode::SERVICE_UNAVAILABLE)
}

/// Nothing is waited for longer than this: of who asks so seldom, more is not learned in a run.
const LONGEST: Duration = Duration::from_secs(60);

fn intervals(context: &Context, count: u32, at_least_s: u64) -> Duration {
    (count * context.timing.interval).clamp(Duration::from_secs(at_least_s), LONGEST)
}

fn trial(label: &str, fault: Fault, lasts: Duration) -> Step {
    Step::Trial {
        label: label.to_owned(),
        steps: vec![
            as_usual(2),
            Step::Outage(Outage {
                lasts: Some(lasts),
                ..Outage::of(fault)
            }),
        ],
    }
}

fn hammering(context: &Context) -> Plan {
    let lasts = intervals(context, 4, 3);
    let mut steps = vec![
        trial("503", unavailable(), lasts),
        trial("connections are reset", reset(), lasts),
    ];
    if *context.dialect.first().auth() != AuthScheme::None {
        steps.push(trial("the key is refused", Fault::KeyRevoked, lasts));
    }
    Plan::of(steps)
}

fn reset() -> Fault {
    Fault::reset_at(Position::Start)
}

fn backing_off(context: &Context) -> Plan {
    let lasts = 12 * context.timing.interval;
    Plan::of([
        trial("503", unavailable(), lasts),
        trial("connections are reset", reset(), lasts),
    ])
}

/// As a trial, so that its end is told also if nothing happens any more.
fn long_outage(context: &Context) -> Plan {
    Plan::of([trial("503", unavailable(), intervals(context, 20, 15))])
}

fn herd(context: &Context) -> Plan {
    let rest = Step::Await {
        what: super::super::Awaited::Requests(2 * HERD),
        within: intervals(context, 8, 4),
    };
    let outage = Step::Outage(Outage {
        lasts: Some(intervals(context, 10, 4)),
        ..Outage::of(unavailable())
    });
    Plan {
        setup: Setup {
            companions: HERD - 1,
            ..Setup::default()
        },
        steps: vec![as_usual(4), outage, rest],
    }
}
