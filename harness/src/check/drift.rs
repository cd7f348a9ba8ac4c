//! Bodies that differ from what the watcher's author saw.

use std::time::Duration;

use coldbed_mock::drift::{AddMember, Drift, DriftClass, ReplaceByNull};

use super::{Area, Check, Context, Field, Level, NotPlanned, Plan, Step};
use crate::oracle;
use coldbed_mock::dialect::Quantity;
use coldbed_mock::sim::{Simulation, VirtualTime};

pub(super) const CHECKS: &[Check] = &[
    Check {
        id: "extra-field-ignored",
        area: Area::Drift,
        level: Level::Must,
        requirement: "a member the watcher does not know changes nothing of what it claims",
        source: "RFC 7493 section 4.2 (must-ignore)",
        provoked: "the bodies are changed for six answers",
        judged: "each claim is held against the answers it may rest on",
        scenario: "heat-up",
        needs: Field::Anything,
        plan: |context| Ok(with_drifts(&objects(context), extra_member)),
        oracle: |trace, _| oracle::verify_all_claims(trace),
    },
    Check {
        id: "null-target-survived",
        area: Area::Drift,
        level: Level::Must,
        requirement: "a target that turns null is unknown: no crash, no number, and neither on nor off",
        source: "RFC 8259 section 3: null is a value of its own, not a number",
        provoked: "the bodies are changed for six answers",
        judged: "each claim is held against the answers it may rest on",
        scenario: "heat-up",
        needs: Field::Anything,
        plan: |context| match targets(context) {
            places if places.is_empty() => Err(NotPlanned(
                "no JSON body of the dialect shows the extruder's target".to_owned(),
            )),
            places => Ok(with_drifts(&places, null)),
        },
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

/// Gives where the dialect shows the extruder's target.
fn targets(context: &Context) -> Vec<String> {
    shown(context, &Quantity::Target("extruder".to_owned()))
}

/// Gives the bodies themselves, and the objects in them that tell of the extruder and of the job.
fn objects(context: &Context) -> Vec<String> {
    let mut objects = vec![String::new()];
    let places = [targets(context), shown(context, &Quantity::Progress)].concat();
    for place in places {
        let object = place.rsplit_once('/').map_or("", |(object, _)| object);
        if !objects.iter().any(|known| known == object) {
            objects.push(object.to_owned());
        }
    }
    objects
}

fn shown(context: &Context, quantity: &Quantity) -> Vec<String> {
    let mut simulation = Simulation::new(std::sync::Arc::clone(&context.scenario), 0);
    let truth = simulation.truth_at(VirtualTime::new(Duration::from_secs(FROM_S)));
    context.dialect.first().places_of(quantity, &truth)
}

/// When the bodies begin to be looked at: the job of `heat-up` heats.
const FROM_S: u64 = 300;

/// Plans answers as usual, then with the drifts, then as usual again.
fn with_drifts(pointers: &[String], drift: impl Fn(&str) -> Drift) -> Plan {
    let visit = |from: Option<u64>, answers| Step::Visit {
        from: from.map(|from| VirtualTime::new(Duration::from_secs(from))),
        per_poll: Duration::from_secs(30),
        answers,
    };
    let mut steps = vec![visit(Some(FROM_S), 3)];
    steps.extend(
        pointers
            .iter()
            .map(|pointer| Step::RaiseDrift(drift(pointer))),
    );
    steps.extend([visit(None, 6), Step::ClearDrifts, visit(None, 4)]);
    Plan::of(steps)
}
