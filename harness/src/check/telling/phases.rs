//! Which phase the printer is in, and when it changes.

use std::time::Duration;

use super::{Check, Context, Field, NotPlanned, Plan, Step, TELLING, episodes, seconds};
use crate::oracle::{self, Trace};
use coldbed_mock::sim::{Phase, Simulation, Tick, VirtualTime};

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
        requirement: "a printer that is heated by hand, without a job, is heating and then idle",
        ..phase_check("phase-preheat", "preheat")
    },
    Check {
        requirement: "a print that stands still for an open door is paused; what it stands still for may be anything",
        ..phase_check("phase-paused-by-door", "door")
    },
    Check {
        requirement: "a finish is over as soon as the next job begins",
        ..phase_check("finish-latched-over-next-job", "next-job")
    },
    Check {
        id: "phase-missed-between-polls",
        requirement: "what happened between two polls is not waited for: the phase is the one served now",
        provoked: "the clock jumps from a print into the next job, and from there past its finish to an idle printer",
        scenario: "missed-phases",
        needs: Field::Phase,
        plan: |context| Ok(every_second_phase(context)),
        oracle: |trace, _| oracle::verify_phases(trace),
        ..TELLING
    },
    Check {
        id: "full-progress-is-not-finished",
        requirement: "a job at 100 percent that still runs is printing: hosts round, and estimates are too short",
        provoked: "a job is visited while it shows 100 percent and still runs, and after its finish",
        scenario: "rough-estimates",
        needs: Field::Phase,
        plan: full_and_running,
        oracle: |trace, _| oracle::verify_phases(trace),
        ..TELLING
    },
    Check {
        id: "finish-noticed",
        requirement: "the finish is claimed within the measured rhythm of the answer that tells it",
        source: "common practice: the next print starts soon after this one ends",
        provoked: "the last seconds of a print and the first after it are played at the pace of the watcher",
        judged: "a claim of the finish comes in time after the first answer that tells it, and the watcher did ask in time",
        scenario: "finished",
        needs: Field::Phase,
        plan: |context| Ok(around_the_finish(context)),
        oracle: |trace, _| oracle::verify_finish_noticed(trace),
        ..TELLING
    },
];

const fn phase_check(id: &'static str, scenario: &'static str) -> Check {
    Check {
        id,
        source: "RFC 8011 sections 5.3.7 and 5.4.11 (job-state, printer-state)",
        provoked: "the beginning and a late part of each phase of the scenario are visited in order",
        scenario,
        needs: Field::Phase,
        plan: |context| Ok(Plan::each_phase(&context.scenario)),
        oracle: |trace: &Trace<'_>, _: &Context| oracle::verify_phases(trace),
        ..TELLING
    }
}

/// Visits one phase, passes over the next, and so on.
fn every_second_phase(context: &Context) -> Plan {
    let visit = |episode: crate::check::Episode| Step::Visit {
        from: Some(episode.from.start()),
        per_poll: seconds(2),
        answers: 4,
    };
    // A job's heating comes before its printing: leaving out each second one gives printing after
    // idle, idle after printing, and never a finish in between.
    let phases = episodes(&context.scenario, 1);
    Plan::of(phases.into_iter().step_by(2).map(visit))
}

fn full_and_running(context: &Context) -> Result<Plan, NotPlanned> {
    let episodes = episodes(&context.scenario, 1);
    let finish = episodes
        .iter()
        .find(|episode| episode.phase == Phase::Finished)
        .ok_or_else(|| NotPlanned("the scenario has no finish".to_owned()))?;
    let mut printer = Simulation::new(std::sync::Arc::clone(&context.scenario), 1);
    let is_full = |tick: &u64| {
        let truth = printer.truth_at(Tick(*tick).start());
        truth.job.is_some_and(|job| job.progress_percent >= 100.0)
    };
    let Some(full) = (0..finish.from.0).step_by(50).find(is_full) else {
        return Err(NotPlanned("no job shows 100 percent too early".to_owned()));
    };
    let visit = |at: Tick, per_poll: Duration| Step::Visit {
        from: Some(at.start()),
        per_poll,
        answers: 4,
    };
    let rest = finish.from.start().since_start() - Tick(full).start().since_start();
    Ok(Plan::of([
        visit(Tick(full), (rest / 40).min(seconds(5))),
        visit(finish.from, seconds(2)),
    ]))
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
