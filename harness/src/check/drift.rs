//! Bodies that differ from what the watcher's author saw.

use std::time::Duration;

use coldbed_mock::drift::{AddMember, Drift, DriftClass, ReplaceByNull};

use super::{Check, Field, Level, Plan, Step};
use crate::oracle;
use coldbed_mock::sim::VirtualTime;

pub(super) const CHECKS: &[Check] = &[
    Check {
        id: "extra-field-ignored",
        level: Level::Must,
        requirement: "a member the watcher does not know changes nothing of what it claims",
        source: "RFC 7493 section 4.2 (must-ignore)",
        scenario: "heat-up",
        needs: Field::Anything,
        plan: |_| with_drifts(&["", "/job", "/heaters/extruder"], extra_member),
        oracle: |trace, _| oracle::verify_all_claims(trace),
    },
    Check {
        id: "null-target-survived",
        level: Level::Must,
        requirement: "a target that turns null is unknown: no crash, no number, and neither on nor off",
        source: "RFC 8259 section 3: null is a value of its own, not a number",
        scenario: "heat-up",
        needs: Field::Anything,
        plan: |_| with_drifts(&["/heaters/extruder/target-celsius"], null),
        oracle: |trace, _| oracle::verify_null_target(trace, "extruder"),
    },
];

fn extra_member(pointer: &str) -> Drift {
    let change = AddMember {
        member: "note".to_owned(),
        value: serde_json::json!({"text": "new here", "level": 2}),
    };
    Drift {
        name: "extra-member".to_owned(),
        pointer: pointer.to_owned(),
        change: change.into(),
        class: DriftClass::Compatible,
    }
}

fn null(pointer: &str) -> Drift {
    Drift {
        name: "null".to_owned(),
        pointer: pointer.to_owned(),
        change: ReplaceByNull.into(),
        class: DriftClass::Breaking,
    }
}

/// Plans answers as usual, then with the drifts, then as usual again.
fn with_drifts(pointers: &[&str], drift: impl Fn(&str) -> Drift) -> Plan {
    let visit = |from: Option<u64>, answers| Step::Visit {
        from: from.map(|from| VirtualTime::new(Duration::from_secs(from))),
        per_poll: Duration::from_secs(30),
        answers,
    };
    let mut steps = vec![visit(Some(300), 3)];
    steps.extend(
        pointers
            .iter()
            .map(|pointer| Step::RaiseDrift(drift(pointer))),
    );
    steps.extend([visit(None, 6), Step::ClearDrifts, visit(None, 4)]);
    Plan { steps }
}
