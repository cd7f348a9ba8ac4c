//! Moments of the scenario `many-jobs` between which phase, numbers and targets are other values.

use std::sync::{Arc, OnceLock};
use std::time::Duration;

use coldbed_mock::sim::{Phase, Simulation, Tick, VirtualTime};

use super::{Episode, scenario};

/// The scenario.
pub(super) const MANY_JOBS: &str = "many-jobs";

/// How many of its jobs are looked for: more than any plan visits.
const JOBS: usize = 4;

/// Gives a moment well within the print of a job, counted from 0: a share of it is over.
pub(super) fn printing(job: usize, share: f64) -> VirtualTime {
    within(Phase::Printing, job, share)
}

/// Gives a moment after the end of a job, counted from 0, and before the next one begins.
pub(super) fn finished(job: usize, share: f64) -> VirtualTime {
    within(Phase::Finished, job, share)
}

fn within(phase: Phase, job: usize, share: f64) -> VirtualTime {
    let mut of_phase = episodes().iter().filter(|episode| episode.phase == phase);
    let Some(episode) = of_phase.nth(job) else {
        panic!("the scenario `{MANY_JOBS}` has no {phase} of job {job}");
    };
    let (from, until) = (episode.from.start(), episode.until.start());
    from + (until.since_start() - from.since_start()).mul_f64(share)
}

/// Gives the phases of the first jobs. Dozens of plans ask for them, so they are looked for once.
fn episodes() -> &'static [Episode] {
    static EPISODES: OnceLock<Vec<Episode>> = OnceLock::new();
    EPISODES.get_or_init(|| {
        let mut simulation = Simulation::new(Arc::clone(&scenario(MANY_JOBS)), 1);
        let mut episodes: Vec<Episode> = Vec::new();
        let mut tick = 0;
        let is_last = |episodes: &[Episode]| {
            let finished = episodes.iter().filter(|e| e.phase == Phase::Finished);
            finished.count() > JOBS
        };
        while !is_last(&episodes) && tick < scenario(MANY_JOBS).length.0 {
            simulation.advance_to(Tick(tick));
            let phase = simulation.phase();
            let until = Tick(tick + 1);
            match episodes.last_mut() {
                Some(last) if last.phase == phase => last.until = until,
                _ => episodes.push(Episode {
                    phase,
                    from: Tick(tick),
                    until,
                }),
            }
            tick += 1;
        }
        episodes
    })
}

/// How much virtual time may pass in one poll: a slow watcher stays within a phase, and a quick one
/// still sees its numbers move.
pub(super) const PER_POLL: Duration = Duration::from_secs(1);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phase_numbers_and_targets_differ_from_one_moment_to_the_next() {
        let moments = [
            printing(0, 0.3),
            finished(0, 0.1),
            printing(1, 0.5),
            finished(1, 0.3),
            printing(2, 0.7),
        ];
        let mut simulation = Simulation::new(scenario(MANY_JOBS), 1);
        let truths = moments.map(|at| simulation.truth_at(at));
        for pair in truths.windows(2) {
            let jobs = [0, 1].map(|at| pair[at].job.as_ref().unwrap());
            assert_ne!(pair[0].phase, pair[1].phase);
            let apart = |a: f64, b: f64| assert!((a - b).abs() > 3.0, "{a} {b}");
            apart(jobs[0].progress_percent, jobs[1].progress_percent);
            apart(jobs[0].elapsed_seconds, jobs[1].elapsed_seconds);
            for (one, other) in pair[0].heaters.values().zip(pair[1].heaters.values()) {
                apart(one.target_celsius, other.target_celsius);
            }
        }
    }
}
