//! Hosts that answer well, and not with what is true now. Only a clock that the host shows tells it.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::fault::Fault;
use coldbed_mock::sim::Simulation;

use super::{before, recovery};
use crate::check::clips::{MANY_JOBS, printing};
use crate::check::{Area, Check, Context, Field, Level, NotPlanned, Plan, Step};
use crate::oracle;

pub(in crate::check) const CHECKS: &[Check] = &[
    Check {
        id: "frozen-host",
        requirement: "a watcher whose host shows a clock notices when that clock stands still, and says that it does not know",
        source: "common practice: a host's program can hang behind its web server",
        provoked: "the host answers well, and shows from one answer on what was true at that one; its clock stands still with all the rest",
        judged: "unknown is claimed within the time for a failure and six polls more, and a live claim comes in time after it",
        plan: |context| {
            clock_is_shown(context)?;
            let lasts = context.timing.frozen_within() + 2 * context.timing.longest_interval;
            Ok(Plan::of([
                before(),
                Step::RaiseFault(Fault::Frozen.into()),
                Step::Wait(lasts),
                Step::ClearFaults,
                recovery(context, lasts),
            ]))
        },
        oracle: |trace, context| oracle::verify_frozen_noticed(trace, &clock_routes(context)),
        ..CLOCK
    },
    Check {
        id: "answers-out-of-order",
        requirement: "a watcher whose host shows a clock shows no answer that is older than the one it has shown",
        source: "common practice: two hosts, or a cache, behind one address",
        provoked: "every second answer is older than the one before",
        judged: "the elapsed time and the progress of one print never go back",
        needs: Field::Elapsed,
        plan: |context| {
            clock_is_shown(context)?;
            let visit = |from, answers| Step::Visit {
                from,
                per_poll: Duration::from_secs(4),
                answers,
            };
            Ok(Plan::of([
                visit(Some(printing(0, 0.1)), 2),
                Step::RaiseFault(Fault::OutOfOrder.into()),
                visit(None, 8),
                Step::ClearFaults,
                visit(None, 2),
            ]))
        },
        oracle: |trace, context| oracle::verify_never_backwards(trace, &clock_routes(context)),
        ..CLOCK
    },
];

const CLOCK: Check = Check {
    id: "",
    area: Area::Connection,
    level: Level::Should,
    requirement: "",
    source: "",
    provoked: "",
    judged: "",
    scenario: MANY_JOBS,
    needs: Field::Anything,
    plan: |_| Ok(Plan::default()),
    oracle: |trace, _| oracle::verify_outage(trace),
};

fn clock_is_shown(context: &Context) -> Result<(), NotPlanned> {
    match clock_routes(context).is_empty() {
        true => Err(NotPlanned(
            "the host shows no clock and no up-time".to_owned(),
        )),
        false => Ok(()),
    }
}

/// Gives the routes, such as `GET /printer`, whose bodies change with the host's clock alone.
fn clock_routes(context: &Context) -> Vec<String> {
    let dialect = context.dialect.first();
    let mut simulation = Simulation::new(Arc::clone(&context.scenario), 1);
    let truth = simulation.truth_at(printing(0, 0.3));
    let mut later = truth.clone();
    later.printer.up_time_seconds += 7;
    later.printer.clock_unix_seconds += 7.0;
    let shown = dialect.preview(&truth).into_iter();
    shown
        .zip(dialect.preview(&later))
        .filter(|(one, other)| one.text != other.text)
        .map(|(one, _)| one.route)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::oracle::Timing;
    use coldbed_mock::dialect::DialectFile;

    fn context(dialect: &str) -> Context {
        let second = Duration::from_secs(1);
        Context {
            scenario: crate::check::scenario(MANY_JOBS),
            timing: Timing {
                interval: second,
                longest_interval: second,
                longest_idle_interval: second,
                longest_claim_gap: second,
                harness_delay: Duration::ZERO,
            },
            dialect: Arc::new(DialectFile::builtin(dialect).unwrap()),
            key: "key".to_owned(),
            reported: std::collections::BTreeSet::new(),
            takes_interval: false,
            subscribes: false,
            commands: Vec::new(),
            asked: std::collections::BTreeSet::new(),
        }
    }

    #[test]
    fn a_clock_is_found_in_the_bodies_that_show_one() {
        let routes = clock_routes(&context("plain"));
        assert!(routes.contains(&"GET /printer".to_owned()), "{routes:?}");
        assert!(!routes.iter().any(|route| route.starts_with("GET /heaters")));
        assert!(!clock_routes(&context("senml")).is_empty());
    }
}
