//! Telling the truth: phases, temperatures, targets, numbers, the finish.

use std::time::Duration;

use super::{Area, Check, Context, Field, Level, Plan, Step, episodes};
use crate::oracle::{self, Quantity, Trace};
use coldbed_mock::scenario::When;
use coldbed_mock::sim::{Phase, Tick, VirtualTime};

pub(super) const CHECKS: &[Check] = &[
    Check {
        requirement: "idle, heating and printing are told apart while a cold printer heats up",
        ..phase_check("phase-heat-up", "heat-up")
    },
    Check {
        requirement: "a long print is told as idle, heating, printing and finished, each in its time",
        ..phase_check("phase-printing", "printing")
    },
    Check {
        requirement: "a print that stands still for want of filament is paused, not printing and not finished",
        ..phase_check("phase-paused", "paused")
    },
    Check {
        requirement: "a printer stopped by its thermal protection is in error until somebody clears it",
        ..phase_check("phase-error", "error")
    },
    Check {
        requirement: "a print that came to its end is finished, also while the hot parts still cool down",
        ..phase_check("phase-finished", "finished")
    },
    Check {
        requirement: "a print that was given up is cancelled, not finished",
        ..phase_check("phase-cancelled", "cancelled")
    },
    Check {
        id: "actual-temperature",
        area: Area::Telling,
        level: Level::Must,
        requirement: "each heater's actual temperature is the one served, by the heater's name and no older than the poll interval allows",
        source: "common practice: an old reading is never shown as now",
        provoked: "the parts of the scenario that matter are visited, each for some answers",
        judged: "each claim is held against the answers served within the allowed window",
        scenario: "heat-up",
        needs: Field::Actual,
        plan: |_| Ok(Plan::stretch(seconds(40), seconds(8), 16)),
        oracle: |trace, _| oracle::verify_actual_temperatures(trace),
    },
    Check {
        id: "target-temperature",
        area: Area::Telling,
        level: Level::Must,
        requirement: "each heater's target is the one served, also after somebody changed it",
        source: "common practice",
        provoked: "the parts of the scenario that matter are visited, each for some answers",
        judged: "each claim is held against the answers served within the allowed window",
        scenario: "preheat",
        needs: Field::Target,
        plan: |context| Ok(by_hand(context)),
        oracle: |trace, _| oracle::verify_target_temperatures(trace),
    },
    Check {
        id: "heater-on-by-target",
        area: Area::Telling,
        level: Level::Must,
        requirement: "a heater is on exactly while its target is above zero, however hot or cold it is",
        source: "common practice",
        provoked: "the parts of the scenario that matter are visited, each for some answers",
        judged: "each claim is held against the answers served within the allowed window",
        scenario: "preheat",
        needs: Field::On,
        plan: |context| Ok(by_hand(context)),
        oracle: |trace, _| oracle::verify_on(trace),
    },
    Check {
        requirement: "progress is the percentage served",
        oracle: |trace, _| oracle::verify_number(trace, Quantity::Progress),
        ..number_check("progress", Field::Progress)
    },
    Check {
        requirement: "the elapsed time is the one served",
        oracle: |trace, _| oracle::verify_number(trace, Quantity::Elapsed),
        ..number_check("elapsed", Field::Elapsed)
    },
    Check {
        requirement: "the remaining time is the one served",
        oracle: |trace, _| oracle::verify_number(trace, Quantity::Remaining),
        ..number_check("remaining", Field::Remaining)
    },
    Check {
        id: "unknown-stays-unknown",
        area: Area::Telling,
        level: Level::Must,
        requirement: "a remaining time that the printer does not know is shown as unknown, not as 0, a guess or the last job's",
        source: "RFC 8259 section 3: null is a value of its own, not a number",
        provoked: "the parts of the scenario that matter are visited, each for some answers",
        judged: "each claim is held against the answers served within the allowed window",
        scenario: "two-jobs",
        needs: Field::Remaining,
        plan: |context| Ok(known_then_unknown(context)),
        oracle: |trace, _| oracle::verify_unknown_stays_unknown(trace),
    },
    Check {
        id: "finish-noticed",
        area: Area::Telling,
        level: Level::Must,
        requirement: "the finish is claimed within the measured rhythm of the answer that tells it",
        source: "common practice: the next print starts soon after this one ends",
        provoked: "the parts of the scenario that matter are visited, each for some answers",
        judged: "each claim is held against the answers served within the allowed window",
        scenario: "finished",
        needs: Field::Phase,
        plan: |context| Ok(around_the_finish(context)),
        oracle: |trace, _| oracle::verify_finish_noticed(trace),
    },
];

const fn seconds(seconds: u64) -> Duration {
    Duration::from_secs(seconds)
}

const fn phase_check(id: &'static str, scenario: &'static str) -> Check {
    Check {
        id,
        area: Area::Telling,
        level: Level::Must,
        requirement: "",
        source: "RFC 8011 sections 5.3.7 and 5.4.11 (job-state, printer-state)",
        provoked: "the parts of the scenario that matter are visited, each for some answers",
        judged: "each claim is held against the answers served within the allowed window",
        scenario,
        needs: Field::Phase,
        plan: |context| Ok(Plan::each_phase(&context.scenario)),
        oracle: |trace: &Trace<'_>, _: &Context| oracle::verify_phases(trace),
    }
}

const fn number_check(id: &'static str, needs: Field) -> Check {
    Check {
        id,
        area: Area::Telling,
        level: Level::Must,
        requirement: "",
        source: "common practice",
        provoked: "the parts of the scenario that matter are visited, each for some answers",
        judged: "each claim is held against the answers served within the allowed window",
        scenario: "heat-up",
        needs,
        // Ten answers over most of the 45 minute job, the first well after it began to print.
        plan: |_| Ok(Plan::stretch(seconds(300), seconds(200), 10)),
        oracle: |trace: &Trace<'_>, _: &Context| oracle::verify_number(trace, Quantity::Progress),
    }
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

/// Visits the first job's print, the second job's heating and its print.
fn known_then_unknown(context: &Context) -> Plan {
    let episodes = episodes(&context.scenario, 1);
    let from = episodes
        .iter()
        .position(|episode| episode.phase == Phase::Printing);
    let visit = |episode: &super::Episode| Step::Visit {
        from: Some(episode.from.start()),
        per_poll: seconds(3),
        answers: 4,
    };
    let wanted =
        |episode: &&super::Episode| matches!(episode.phase, Phase::Printing | Phase::Heating);
    Plan::of(
        episodes[from.unwrap_or(0)..]
            .iter()
            .filter(wanted)
            .map(visit),
    )
}

/// Stays with the end of the print: some answers before it, and enough after it.
fn around_the_finish(context: &Context) -> Plan {
    let finish = episodes(&context.scenario, 1)
        .into_iter()
        .find(|episode| episode.phase == Phase::Finished)
        .map_or(Duration::ZERO, |episode| episode.from.start().since_start());
    let lead = context.timing.interval.mul_f64(3.5);
    let visit = |from, answers| Step::Visit {
        from,
        // Real time: how late a finish is noticed is a matter of real seconds.
        per_poll: context.timing.interval,
        answers,
    };
    Plan::of([
        visit(Some(VirtualTime::new(finish.saturating_sub(lead))), 4),
        visit(None, 4),
        visit(None, 2),
    ])
}
