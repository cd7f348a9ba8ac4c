//! Connections that fail, and hosts that are not ready.

use std::time::Duration;

use coldbed_mock::fault::{Fault, Position};

use super::{Area, Check, Context, Field, Level, Outage, Plan, Step};
use crate::oracle::{self, Trace};
use coldbed_mock::sim::VirtualTime;

pub(super) const CHECKS: &[Check] = &[
    Check {
        id: "refused-connection",
        requirement: "while nobody listens at the host's address the watcher says that it does not know, and recovers by itself",
        plan: |_| Ok(outage(Fault::Refuse)),
        ..CONNECTION
    },
    Check {
        id: "reset-connection",
        requirement: "while the host resets every connection before it answers the watcher says that it does not know, and recovers by itself",
        plan: |_| Ok(outage(Fault::reset_at(Position::Start))),
        ..CONNECTION
    },
    Check {
        id: "service-unavailable",
        requirement: "while the host answers 503 the watcher says that it does not know, and recovers by itself",
        source: "RFC 9110 section 15.6.4",
        plan: |_| {
            Ok(outage(Fault::Status {
                code: http::StatusCode::SERVICE_UNAVAILABLE,
                retry_after: None,
            }))
        },
        ..CONNECTION
    },
];

const CONNECTION: Check = Check {
    id: "",
    area: Area::Connection,
    level: Level::Must,
    requirement: "",
    source: "common practice: loss of the host must be visible; old data is never shown as now",
    provoked: "the fault is raised for longer than the watcher may take to notice it, and cleared again",
    judged: "unknown is claimed in time and for as long as the fault lasts, and a live claim comes in time after it",
    scenario: "heat-up",
    needs: Field::Anything,
    plan: |_| Ok(Plan::default()),
    oracle: |trace: &Trace<'_>, _: &Context| oracle::verify_outage(trace),
};

fn outage(fault: Fault) -> Plan {
    Plan::of([
        Step::Visit {
            from: Some(VirtualTime::new(Duration::from_secs(600))),
            per_poll: Duration::from_secs(5),
            answers: 3,
        },
        Step::Outage(Outage::of(fault)),
    ])
}
