//! Temperatures, targets and whether a heater is on, by name.

use super::{Check, Context, Field, Plan, Step, TELLING, episodes, seconds};
use crate::oracle;
use coldbed_mock::scenario::When;
use coldbed_mock::sim::{Phase, Tick};

pub(super) const CHECKS: &[Check] = &[
    Check {
        id: "actual-temperature",
        requirement: "each heater's actual temperature is the one served, by the heater's name and no older than the poll interval allows",
        source: "common practice: an old reading is never shown as now",
        scenario: "heat-up",
        needs: Field::Actual,
        plan: |_| Ok(Plan::stretch(seconds(40), seconds(8), 16)),
        oracle: |trace, _| oracle::verify_actual_temperatures(trace),
        ..TELLING
    },
    Check {
        id: "target-temperature",
        requirement: "each heater's target is the one served, also after somebody changed it",
        scenario: "preheat",
        needs: Field::Target,
        plan: |context| Ok(by_hand(context)),
        oracle: |trace, _| oracle::verify_target_temperatures(trace),
        ..TELLING
    },
    Check {
        id: "heater-on-by-target",
        requirement: "a heater is on exactly while its target is above zero, however hot or cold it is",
        scenario: "preheat",
        needs: Field::On,
        plan: |context| Ok(by_hand(context)),
        oracle: |trace, _| oracle::verify_on(trace),
        ..TELLING
    },
    Check {
        id: "heaters-by-name",
        requirement: "heaters are told apart by name, however many there are and in whatever order they stand",
        provoked: "a printer with four heaters, in an unusual order, is visited cold, hot and while it cools",
        judged: "each heater that the watcher names has the values of the heater of that name",
        scenario: "four-heaters",
        needs: Field::Actual,
        plan: |context| Ok(each_phase_briefly(context)),
        oracle: |trace, _| oracle::verify_heaters_and_phases(trace),
        ..TELLING
    },
    Check {
        id: "missing-heater-survived",
        requirement: "a printer without a heated platform is watched like any other, and no temperature is claimed for a heater that is not there",
        provoked: "a printer whose only heater is its extruder is visited cold, hot and while it cools",
        judged: "each heater that the watcher names has the values of the heater of that name, or none",
        scenario: "one-heater",
        needs: Field::Anything,
        plan: |context| Ok(each_phase_briefly(context)),
        oracle: |trace, _| oracle::verify_heaters_and_phases(trace),
        ..TELLING
    },
    Check {
        id: "no-reading-is-unknown",
        requirement: "a temperature that the host has no number for is unknown, not 0 and not the last one",
        source: "RFC 8259 section 3: null is a value of its own, not a number",
        provoked: "a sensor breaks in the middle of a print; the host shows null for its temperature",
        scenario: "sensor-faults",
        needs: Field::Actual,
        plan: |context| Ok(around_a_lost_reading(context)),
        oracle: |trace, _| oracle::verify_actual_temperatures(trace),
        ..TELLING
    },
    Check {
        id: "hot-while-off-called-safe",
        requirement: "a part that is hot is not called safe to touch, though its heater is off and the job is over",
        source: "ISO 13732-1:2006, burn threshold of bare metal at one minute's contact, 51 C (from memory)",
        provoked: "a print is visited hot, at its end, and while its parts cool down",
        judged: "no claim of safety stands while every answer it may rest on shows a part at 51 C or more, or a part without a reading",
        scenario: "finished",
        needs: Field::Safe,
        plan: |context| Ok(each_phase_briefly(context)),
        oracle: |trace, _| oracle::verify_safe(trace),
        ..TELLING
    },
];

/// Visits the beginning of each phase, and shortly after it.
fn each_phase_briefly(context: &Context) -> Plan {
    let visit = |at: Tick| Step::Visit {
        from: Some(at.start()),
        per_poll: seconds(4),
        answers: 3,
    };
    Plan::of(
        episodes(&context.scenario, 1)
            .into_iter()
            .map(|episode| visit(episode.from)),
    )
}

/// Visits every change of a target made at the machine.
fn by_hand(context: &Context) -> Plan {
    let visit = |at: Tick| Step::Visit {
        from: Some(at.start()),
        per_poll: seconds(2),
        answers: 4,
    };
    let changes = context
        .scenario
        .events
        .iter()
        .filter_map(|event| match event.when {
            When::At(at) => Some(visit(at)),
            _ => None,
        });
    Plan::of(std::iter::once(visit(Tick(0))).chain(changes))
}

/// Visits the print before a reading is lost, and afterwards.
fn around_a_lost_reading(context: &Context) -> Plan {
    let events = context.scenario.events.iter();
    let moments = events.filter_map(|event| match event.when {
        When::At(at) => Some(at),
        _ => None,
    });
    let printing = episodes(&context.scenario, 1)
        .into_iter()
        .filter(|episode| episode.phase == Phase::Printing)
        .map(|episode| episode.from);
    let mut moments: Vec<Tick> = moments.chain(printing).collect();
    moments.sort_unstable();
    Plan::of(moments.into_iter().map(|at| Step::Visit {
        from: Some(at.start()),
        per_poll: seconds(3),
        answers: 3,
    }))
}
