//! Push streams that fall silent or end, for watchers that subscribe to one.

use std::time::Duration;

use coldbed_mock::fault::Fault;

use crate::check::clips::{MANY_JOBS, PER_POLL, finished, printing};
use crate::check::{Area, Awaited, Check, Context, Field, Level, NotPlanned, Plan, Step};
use crate::oracle;

pub(in crate::check) const CHECKS: &[Check] = &[
    Check {
        id: "silent-stream",
        requirement: "when nothing comes on its push stream any more, not even what keeps it alive, the watcher says that it does not know, and recovers by itself",
        source: "WHATWG HTML, \"Server-sent events\": comment lines keep a stream alive; common practice: no wait without end",
        provoked: "the push stream stays open and nothing comes on it; the print comes to its end meanwhile",
        plan: |context| stream(context, Fault::SilentStream),
        ..STREAM
    },
    Check {
        id: "stream-closed",
        requirement: "when the host ends its push stream again and again, the watcher says that it does not know, and recovers by itself",
        source: "WHATWG HTML, \"Server-sent events\": a client reconnects",
        provoked: "the push stream is ended, and each new one as soon as it has begun; the print comes to its end meanwhile",
        plan: |context| stream(context, Fault::StreamClosed { code: None }),
        ..STREAM
    },
];

const STREAM: Check = Check {
    id: "",
    area: Area::Connection,
    level: Level::Must,
    requirement: "",
    source: "",
    provoked: "",
    judged: "unknown is claimed in time and for as long as it lasts, and a live claim comes in time after it",
    scenario: MANY_JOBS,
    needs: Field::Anything,
    plan: |_| Ok(Plan::default()),
    oracle: |trace, _| oracle::verify_stream_outage(trace),
};

fn stream(context: &Context, fault: Fault) -> Result<Plan, NotPlanned> {
    if !context.subscribes {
        return Err(NotPlanned(
            "the watcher asks again and again and subscribes to no push stream".to_owned(),
        ));
    }
    let lasts = oracle::stream_timing(context.timing).unknown_within() + Duration::from_secs(5);
    let live = |within| Step::Await {
        what: Awaited::LiveClaim,
        within,
    };
    Ok(Plan::of([
        Step::Jump {
            to: Some(printing(0, 0.3)),
            // The rate is reckoned from a rhythm of requests that a stream does not have.
            per_poll: PER_POLL.max(context.timing.interval),
        },
        live(Duration::from_secs(10)),
        Step::Wait(Duration::from_secs(2)),
        Step::RaiseFault(fault.into()),
        Step::Jump {
            to: Some(finished(0, 0.1)),
            per_poll: PER_POLL.max(context.timing.interval),
        },
        Step::Wait(lasts),
        Step::ClearFaults,
        live(lasts),
    ]))
}
