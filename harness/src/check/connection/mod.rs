//! Connections that fail, and hosts that are not ready.

mod clock;
mod host;
mod owed;
mod row;
mod stream;

use std::time::Duration;

use coldbed_mock::fault::ScopedFault;

use super::clips::{PER_POLL, finished, printing};
use super::{Awaited, Context, Plan, Step};

pub(super) use clock::CHECKS as CLOCK;
pub(super) use host::CHECKS as HOST;
pub(super) use owed::CHECKS as OWED;
pub(super) use stream::CHECKS as STREAM;

/// Stays with a print until the watcher shows it.
fn before() -> Step {
    Step::Visit {
        from: Some(printing(0, 0.3)),
        per_poll: PER_POLL,
        answers: 3,
    }
}

/// Plans a fault that no usable answer comes through. Once it is in force the print is over, so that
/// what was shown before and what an answer that is not whole tells are different in everything.
fn outage(context: &Context, fault: impl Into<ScopedFault>) -> Plan {
    let timing = context.timing;
    let lasts = timing.unknown_within() + 2 * timing.longest_interval;
    Plan::of([
        before(),
        Step::RaiseFault(fault.into()),
        jump_to_finished(0),
        Step::Wait(lasts),
        Step::ClearFaults,
        recovery(context, lasts),
    ])
}

/// Plans a fault that answers come through, or can: what they tell changes twice while it lasts.
fn through(context: &Context, fault: impl Into<ScopedFault>) -> Plan {
    let timing = context.timing;
    let part = timing.unknown_within() + timing.longest_interval;
    in_two_parts(context, fault, [part, part])
}

/// As [`through`], for a fault that lets a watcher fall behind further and further.
fn falling_behind(context: &Context, fault: impl Into<ScopedFault>) -> Plan {
    let within = context.timing.unknown_within();
    in_two_parts(context, fault, [within.mul_f64(2.0), within.mul_f64(1.5)])
}

fn in_two_parts(context: &Context, fault: impl Into<ScopedFault>, parts: [Duration; 2]) -> Plan {
    Plan::of([
        before(),
        Step::RaiseFault(fault.into()),
        jump_to_finished(0),
        Step::Wait(parts[0]),
        Step::Jump {
            to: Some(printing(1, 0.5)),
            per_poll: PER_POLL,
        },
        Step::Wait(parts[1]),
        Step::ClearFaults,
        recovery(context, parts[0] + parts[1]),
    ])
}

/// Plans a fault that does good answers no harm.
fn harmless(_: &Context, fault: impl Into<ScopedFault>) -> Plan {
    let visit = |at, answers| Step::Visit {
        from: Some(at),
        per_poll: PER_POLL,
        answers,
    };
    Plan::of([
        before(),
        Step::RaiseFault(fault.into()),
        visit(finished(0, 0.1), 6),
        visit(printing(1, 0.5), 6),
        Step::ClearFaults,
        visit(finished(1, 0.3), 2),
    ])
}

fn jump_to_finished(job: usize) -> Step {
    Step::Jump {
        to: Some(finished(job, 0.1)),
        per_poll: PER_POLL,
    }
}

/// Waits for the first live claim after a fault that lasted so long.
fn recovery(context: &Context, lasted: Duration) -> Step {
    let timing = context.timing;
    Step::Await {
        what: Awaited::LiveClaim,
        // The fault lasts a little longer than it was told to.
        within: timing.recovery_within(lasted) + timing.interval + Duration::from_secs(1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::{scenario, sleep};
    use crate::oracle::Timing;
    use coldbed_mock::dialect::DialectFile;
    use std::collections::BTreeSet;
    use std::sync::Arc;

    fn context(dialect: &str) -> Context {
        let second = Duration::from_secs(1);
        Context {
            scenario: scenario(crate::check::clips::MANY_JOBS),
            timing: Timing {
                interval: second,
                longest_interval: second,
                longest_idle_interval: second,
                longest_claim_gap: second,
                harness_delay: Duration::ZERO,
            },
            dialect: Arc::new(DialectFile::builtin(dialect).unwrap()),
            key: "key".to_owned(),
            reported: BTreeSet::new(),
            takes_interval: false,
            subscribes: false,
            commands: Vec::new(),
            asked: std::collections::BTreeSet::new(),
        }
    }

    fn plans(context: &Context) -> Vec<(&'static str, Plan)> {
        let checks = [OWED, HOST, CLOCK, STREAM, sleep::CHECKS].concat();
        let plan = |check: &crate::check::Check| Some((check.id, (check.plan)(context).ok()?));
        checks.iter().filter_map(plan).collect()
    }

    #[test]
    fn what_is_planned_for_a_watcher_that_asks_once_a_second_is_over_within_a_minute() {
        let context = context("plain");
        let settled = context.timing.freshness() + 2 * context.timing.interval;
        for (id, plan) in plans(&context) {
            let spans = plan.steps.iter().map(|step| match step {
                Step::Visit { answers, .. } => {
                    settled.max(u32::try_from(*answers).unwrap() * context.timing.interval)
                }
                Step::Wait(span) => *span,
                // A correct watcher is back after a poll or two.
                Step::Await { .. } => 3 * context.timing.interval,
                _ => Duration::ZERO,
            });
            let lasts: Duration = spans.sum();
            assert!(lasts < Duration::from_secs(60), "{id}: {lasts:?}");
        }
    }

    #[test]
    fn every_dialect_has_a_plan_for_each_fault_it_can_show() {
        for dialect in ["plain", "flat", "nested", "senml"] {
            // Two need a push stream and a watcher that subscribes to it, one needs chunks.
            assert!(plans(&context(dialect)).len() >= 60, "{dialect}");
        }
    }

    #[test]
    fn every_fault_that_is_raised_is_sound() {
        for (id, plan) in plans(&context("plain")) {
            for step in &plan.steps {
                if let Step::RaiseFault(fault) = step {
                    assert!(fault.check().is_ok(), "{id}");
                }
            }
        }
    }
}
