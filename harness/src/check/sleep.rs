//! Sleep and wake: a watcher is stopped in the midst of what it does, and goes on later.

use std::time::Duration;

use coldbed_mock::fault::{Fault, Span};
use coldbed_mock::sim::VirtualTime;

use super::clips::{MANY_JOBS, PER_POLL, finished, printing};
use super::{Area, Awaited, Check, Context, Field, Level, Plan, Step};
use crate::oracle::{self, Trace, UnderWay};

pub(super) const CHECKS: &[Check] = &[
    Check {
        id: "old-data-after-waking",
        requirement: "after it has slept the watcher shows nothing from before its sleep: what it claims was served since, or it says that it does not know",
        provoked: "the watcher is stopped right after a claim, in the middle of a print, and goes on when the print is over",
        plan: |context| {
            Ok(nap(
                context,
                printing(0, 0.3),
                [jump(finished(0, 0.1)), asleep(context)],
                [],
            ))
        },
        ..SLEEP
    },
    Check {
        id: "finish-missed-while-asleep",
        requirement: "a print that came to its end while the watcher slept is told as finished after its waking",
        provoked: "the watcher is stopped shortly before the end of a print and goes on a while after it",
        judged: "phase finished is claimed in time after waking, and nothing older",
        needs: Field::Phase,
        plan: |context| {
            Ok(nap(
                context,
                printing(0, 0.6),
                [jump(finished(0, 0.5)), asleep(context)],
                [],
            ))
        },
        oracle: |trace, _| oracle::verify_finish_after_waking(trace),
        ..SLEEP
    },
    Check {
        id: "host-moved-on-while-asleep",
        requirement: "a watcher that slept while the next print began tells of that print, however it left the last one",
        provoked: "the watcher is stopped when a print is finished, and goes on in the middle of the next one",
        plan: |context| {
            Ok(nap(
                context,
                finished(0, 0.1),
                [jump(printing(1, 0.5)), asleep(context)],
                [],
            ))
        },
        ..SLEEP
    },
    Check {
        id: "new-print-taken-for-the-old-one",
        requirement: "a watcher that slept from one print into the next takes nothing over: progress and times begin anew",
        provoked: "the watcher is stopped late in a print, and goes on early in the next one",
        needs: Field::Progress,
        plan: |context| {
            Ok(nap(
                context,
                printing(0, 0.7),
                [jump(printing(1, 0.15)), asleep(context)],
                [],
            ))
        },
        ..SLEEP
    },
    Check {
        id: "dead-connection-after-waking",
        requirement: "a connection that died while the watcher slept is replaced after its waking",
        source: "RFC 9293 section 3.5.1 (half-open connections); common practice: networks forget connections within minutes",
        provoked: "while the watcher is stopped, its connections die without a word; new ones work",
        plan: |context| {
            let dead = Step::RaiseFault(Fault::HalfOpen.into());
            Ok(nap(
                context,
                printing(0, 0.3),
                [dead, jump(finished(0, 0.1)), asleep(context)],
                [],
            ))
        },
        ..SLEEP
    },
    Check {
        id: "slept-through-outage",
        requirement: "a host that was away and back while the watcher slept is shown as live after its waking",
        source: "RFC 9112 section 9.5: a kept connection may have been closed meanwhile",
        provoked: "while the watcher is stopped, the host closes its connections, refuses new ones, and is back before the watcher goes on",
        plan: |context| {
            let away = [
                Step::RaiseFault(Fault::Refuse.into()),
                jump(finished(0, 0.1)),
                asleep(context),
                Step::ClearFaults,
            ];
            Ok(nap(context, printing(0, 0.3), away, []))
        },
        ..SLEEP
    },
    Check {
        id: "woke-without-network",
        requirement: "a watcher that wakes before its network does says that it does not know, and recovers by itself",
        provoked: "no packet comes or goes when the watcher goes on, and for longer than it may take to notice that",
        judged: "nothing is claimed but unknown until it is answered again, unknown in time, and a live claim comes in time after the network is back",
        plan: |context| {
            let gone = [
                Step::RaiseFault(Fault::Unreachable.into()),
                jump(finished(0, 0.1)),
                asleep(context),
            ];
            let timing = context.timing;
            let lasts = timing.unknown_within() + timing.longest_interval;
            let back = [
                Step::Wait(lasts),
                Step::ClearFaults,
                live(timing.recovery_within(lasts) + Duration::from_secs(1)),
            ];
            Ok(nap(context, printing(0, 0.3), gone, back))
        },
        ..SLEEP
    },
    Check {
        id: "hangs-after-several-sleeps",
        requirement: "a watcher that is stopped again and again goes on each time",
        provoked: "the watcher is stopped four times, the last time for long",
        plan: |context| {
            let moment = Step::Wait(context.timing.longest_interval);
            let short = [Step::Suspend, moment.clone(), Step::Resume, moment];
            let mut plan = nap(
                context,
                printing(0, 0.3),
                [jump(finished(0, 0.1)), asleep(context)],
                [],
            );
            let shorts = (0..3).flat_map(|_| short.clone());
            plan.steps.splice(1..1, shorts);
            Ok(plan)
        },
        ..SLEEP
    },
    Check {
        id: "answer-under-way-when-stopped",
        level: Level::Should,
        requirement: "an answer that came while the watcher slept is old when it wakes, and is not shown as live",
        provoked: "the watcher is stopped between its request and the answer, which comes at once, and goes on when it is no longer true",
        plan: |context| {
            let timing = context.timing;
            Ok(Plan::of([
                until_shown(printing(0, 0.3)),
                Step::RaiseFault(
                    Fault::Latency {
                        of: SOON,
                        jitter: Span::ZERO,
                    }
                    .into(),
                ),
                Step::Await {
                    what: Awaited::Requests(1),
                    within: 2 * timing.longest_interval,
                },
                Step::Suspend,
                Step::ClearFaults,
                Step::Wait(2 * SOON.0),
                jump(finished(0, 0.1)),
                asleep(context),
                Step::Resume,
                live(timing.awake_within() + Duration::from_secs(1)),
                Step::Wait(2 * timing.longest_interval),
            ]))
        },
        oracle: |trace, _| oracle::verify_waking(trace, UnderWay::Old),
        ..SLEEP
    },
];

const SLEEP: Check = Check {
    id: "",
    area: Area::Sleep,
    level: Level::Must,
    requirement: "",
    source: "common practice: battery devices sleep, and what they showed before is old when they wake",
    provoked: "",
    judged: "each claim after waking is unknown, or true of an answer served since; unknown or live in time, and live again in time",
    scenario: MANY_JOBS,
    needs: Field::Anything,
    plan: |_| Ok(Plan::default()),
    oracle: |trace: &Trace<'_>, _: &Context| oracle::verify_waking(trace, UnderWay::Shown),
};

/// How late an answer comes that the watcher is stopped before: time enough to stop it (own choice).
const SOON: Span = Span::from_millis(300);

/// Plans a sleep right after a claim, when no answer is under way, with what happens meanwhile and
/// after it.
fn nap<const N: usize, const M: usize>(
    context: &Context,
    from: VirtualTime,
    meanwhile: [Step; N],
    afterwards: [Step; M],
) -> Plan {
    let timing = context.timing;
    let mut steps = vec![
        until_shown(from),
        live(2 * timing.freshness()),
        // Most watchers show right after an answer: by then it is read and shown, and the next poll
        // has not begun.
        Step::Wait((timing.interval / 4).min(Duration::from_millis(200))),
        Step::Suspend,
    ];
    steps.extend(meanwhile);
    steps.push(Step::Resume);
    if M == 0 {
        steps.push(live(timing.awake_within() + Duration::from_secs(1)));
    }
    steps.extend(afterwards);
    // A second claim or two, of which none may be an old one.
    steps.push(Step::Wait(2 * timing.longest_interval));
    Plan::of(steps)
}

/// Is the sleep itself: longer than any watcher may show one answer for.
fn asleep(context: &Context) -> Step {
    Step::Wait(context.timing.unknown_within() + context.timing.longest_interval)
}

fn until_shown(at: VirtualTime) -> Step {
    Step::Visit {
        from: Some(at),
        per_poll: PER_POLL,
        answers: 3,
    }
}

fn jump(to: VirtualTime) -> Step {
    Step::Jump {
        to: Some(to),
        per_poll: PER_POLL,
    }
}

fn live(within: Duration) -> Step {
    Step::Await {
        what: Awaited::LiveClaim,
        within,
    }
}
