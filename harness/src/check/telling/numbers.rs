//! Progress, elapsed and remaining time.

use std::sync::Arc;

use super::{Check, Context, Field, Plan, Step, TELLING, episodes, seconds};
use crate::oracle::{self, Quantity, Trace};
use coldbed_mock::sim::{Phase, Simulation, Tick, VirtualTime};

pub(super) const CHECKS: &[Check] = &[
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
        requirement: "a remaining time that the printer does not know is shown as unknown, not as 0, a guess or the last job's",
        source: "RFC 8259 section 3: null is a value of its own, not a number",
        provoked: "a job whose remaining time is known is followed by one that only heats up, and has none yet",
        scenario: "two-jobs",
        needs: Field::Remaining,
        plan: |context| Ok(known_then_unknown(context)),
        oracle: |trace, _| oracle::verify_unknown_stays_unknown(trace),
        ..TELLING
    },
    Check {
        id: "last-job-still-shown",
        requirement: "once a job is cleared away its progress and its times are unknown, and no more shown",
        provoked: "a finished job is visited, and the printer after somebody cleared it away",
        scenario: "finished",
        needs: Field::Anything,
        plan: |context| Ok(finished_then_cleared(context)),
        oracle: |trace, _| oracle::verify_job_numbers(trace),
        ..TELLING
    },
    Check {
        id: "estimate-may-jump",
        requirement: "a remaining time that rises, and a progress that falls back, are shown as they are served",
        provoked: "a print whose host corrects its estimates is visited shortly before each correction and shortly after it",
        scenario: "rough-estimates",
        needs: Field::Anything,
        plan: |context| Ok(around_corrections(context)),
        oracle: |trace, _| oracle::verify_job_numbers(trace),
        ..TELLING
    },
];

const fn number_check(id: &'static str, needs: Field) -> Check {
    Check {
        id,
        needs,
        plan: |_| Ok(Plan::stretch(seconds(300), seconds(200), 10)),
        oracle: |trace: &Trace<'_>, _: &Context| oracle::verify_number(trace, Quantity::Progress),
        ..TELLING
    }
}

/// Visits the first job's print, the second job's heating and its print.
fn known_then_unknown(context: &Context) -> Plan {
    let episodes = episodes(&context.scenario, 1);
    let from = episodes
        .iter()
        .position(|episode| episode.phase == Phase::Printing);
    let visit = |episode: &crate::check::Episode| Step::Visit {
        from: Some(episode.from.start()),
        per_poll: seconds(3),
        answers: 4,
    };
    let wanted = |episode: &&crate::check::Episode| {
        matches!(episode.phase, Phase::Printing | Phase::Heating)
    };
    Plan::of(
        episodes[from.unwrap_or(0)..]
            .iter()
            .filter(wanted)
            .map(visit),
    )
}

fn finished_then_cleared(context: &Context) -> Plan {
    let wanted = [Phase::Printing, Phase::Finished, Phase::Idle];
    let phases = episodes(&context.scenario, 1).into_iter();
    let visit = |episode: crate::check::Episode| Step::Visit {
        from: Some(episode.from.start()),
        per_poll: seconds(3),
        answers: 4,
    };
    Plan::of(
        phases
            .filter(|episode| wanted.contains(&episode.phase))
            .map(visit),
    )
}

/// A correction is a progress that falls by so much, or a remaining time that rises by so much.
const FALL_PERCENT: f64 = 1.0;
const RISE_SECONDS: f64 = 60.0;

/// So many corrections are enough.
const CORRECTIONS: usize = 4;

fn around_corrections(context: &Context) -> Plan {
    let mut printer = Simulation::new(Arc::clone(&context.scenario), 1);
    let mut before: Option<(f64, Option<f64>)> = None;
    let mut moments = Vec::new();
    // Second by second.
    for tick in (0..context.scenario.length.0).step_by(10) {
        let job = printer.truth_at(Tick(tick).start()).job;
        let now = job.map(|job| (job.progress_percent, job.remaining_seconds));
        if let (Some((progress, remaining)), Some((progress_now, remaining_now))) = (before, now) {
            let rises = remaining
                .zip(remaining_now)
                .is_some_and(|(before, now)| now > before + RISE_SECONDS);
            if progress_now < progress - FALL_PERCENT || rises {
                moments.push(Tick(tick).start());
            }
        }
        before = now;
    }
    let visit = |from| Step::Visit {
        from: Some(from),
        per_poll: seconds(2),
        answers: 3,
    };
    let mut steps = Vec::new();
    for moment in moments.into_iter().take(CORRECTIONS) {
        let lead = VirtualTime::new(moment.since_start().saturating_sub(seconds(30)));
        steps.extend([visit(lead), visit(moment + seconds(1))]);
    }
    Plan::of(steps)
}
