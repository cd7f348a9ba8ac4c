//! Hosts that go away and come back.

use serde_json::{Map, Value, json};

use super::{before, recovery};
use crate::check::clips::MANY_JOBS;
use crate::check::{Area, Check, Context, Field, Level, Plan, Step};
use crate::oracle::{self, Owed};
use std::time::Duration;

pub(in crate::check) const CHECKS: &[Check] = &[
    Check {
        id: "host-restart",
        requirement: "while the host's program restarts, the watcher says that it does not know, and recovers by itself",
        source: "common practice: hosts are updated and restart",
        provoked: "the host closes its connections and is not there for longer than the watcher may take to notice it",
        plan: |context| Ok(away(context, "host-restart")),
        ..HOST
    },
    Check {
        id: "power-dip",
        requirement: "after a loss of power the watcher shows nothing of the print that was lost with it, and recovers by itself",
        source: "common practice: whoever was connected is not told that the power went",
        provoked: "printer and host lose their power in the middle of a print for longer than the watcher may take to notice it",
        plan: |context| Ok(away(context, "power-dip")),
        ..HOST
    },
];

const HOST: Check = Check {
    id: "",
    area: Area::Connection,
    level: Level::Must,
    requirement: "",
    source: "",
    provoked: "",
    judged: "unknown is claimed in time and for as long as the host is away; what is claimed afterwards was served afterwards, and comes in time",
    scenario: MANY_JOBS,
    needs: Field::Anything,
    plan: |_| Ok(Plan::default()),
    oracle: |trace, _| oracle::verify_fault(trace, Owed::Unknown),
};

fn away(context: &Context, action: &str) -> Plan {
    let timing = context.timing;
    let lasts = timing.unknown_within() + 2 * timing.longest_interval;
    // Whole seconds, as people write it.
    let lasts = Duration::from_secs(lasts.as_secs() + 1);
    let keys: Map<String, Value> = [
        ("action".to_owned(), json!(action)),
        ("lasts".to_owned(), json!(format!("{}s", lasts.as_secs()))),
    ]
    .into_iter()
    .collect();
    Plan::of([
        before(),
        // Virtual time is real time here, so that it lasts as long as it says.
        Step::Jump {
            to: None,
            per_poll: timing.interval,
        },
        Step::Happen(keys),
        Step::Wait(lasts + timing.harness_delay),
        recovery(context, lasts),
    ])
}
