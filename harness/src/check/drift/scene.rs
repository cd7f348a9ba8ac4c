//! The moments between which a trial jumps: from a finished job into the next one.

use std::sync::LazyLock;

use coldbed_mock::sim::{Phase, Simulation, Truth, VirtualTime};

use crate::check::{Episode, episodes, scenario};

/// The scenario of all checks of the area.
pub(super) const SCENARIO: &str = "many-jobs";

/// Is what the printer does while a drift lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scene {
    /// It prints: every number is known, and none is 0.
    Printing,
    /// It heats: the phase is told by the reasons.
    Heating,
}

/// Is one job's moments.
#[derive(Debug, Clone, Copy)]
struct Job {
    heating: VirtualTime,
    printing: VirtualTime,
    finished: VirtualTime,
}

static JOBS: LazyLock<Vec<Job>> = LazyLock::new(jobs);

static PRINTING: LazyLock<Truth> = LazyLock::new(|| truth_at(moment(Scene::Printing, 1)));

/// Gives a moment of a scene within a job, counted from 0; later jobs than the last are the last.
pub(super) fn moment(scene: Scene, job: usize) -> VirtualTime {
    let job = JOBS[job.min(JOBS.len() - 1)];
    match scene {
        Scene::Heating => job.heating,
        Scene::Printing => job.printing,
    }
}

/// Gives a moment at which a job is finished and the printer has cooled.
pub(super) fn finished(job: usize) -> VirtualTime {
    JOBS[job.min(JOBS.len() - 1)].finished
}

/// Gives a truth of the scene in which everything is known.
pub(super) fn printing() -> &'static Truth {
    &PRINTING
}

fn jobs() -> Vec<Job> {
    let episodes = episodes(&scenario(SCENARIO), 1);
    let at = |episode: &Episode, share: f64| {
        let from = episode.from.start();
        from + (episode.until.start().since_start() - from.since_start()).mul_f64(share)
    };
    episodes
        .windows(3)
        .filter_map(|three| match three {
            [heating, printing, finished]
                if heating.phase == Phase::Heating
                    && printing.phase == Phase::Printing
                    && finished.phase == Phase::Finished =>
            {
                Some(Job {
                    heating: at(heating, 0.4),
                    printing: at(printing, 0.4),
                    finished: at(finished, 0.8),
                })
            }
            _ => None,
        })
        .collect()
}

pub(super) fn truth_at(at: VirtualTime) -> Truth {
    Simulation::new(scenario(SCENARIO), 1).truth_at(at)
}
