//! What is done to a watcher during a check.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::drift::Drift;
use coldbed_mock::fault::Fault;
use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::{Phase, Simulation, Tick, VirtualTime};

/// Is what is done, step by step.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The steps, in order.
    pub steps: Vec<Step>,
}

/// Is one step.
#[derive(Debug, Clone)]
pub enum Step {
    /// Sets the virtual clock, and waits until the watcher was answered so often.
    Visit {
        /// The moment to jump to; `None` goes on from where the clock is.
        from: Option<VirtualTime>,
        /// How much virtual time passes in one poll interval.
        per_poll: Duration,
        /// How many answers to wait for.
        answers: usize,
    },
    /// Sets the virtual clock within the same phase and lets it stand there for so many answers.
    Glimpse {
        /// The moment to jump to.
        at: VirtualTime,
        /// How many answers to wait for.
        answers: usize,
    },
    /// Changes the bodies from here on.
    RaiseDrift(Drift),
    /// Ends every change of the bodies.
    ClearDrifts,
    /// Raises a fault, lets it last for longer than the watcher may take to say unknown, clears it
    /// and waits for the recovery.
    Outage(Fault),
}

/// Is a span of a scenario in which the phase stays the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Episode {
    /// The phase.
    pub phase: Phase,
    /// Its first tick.
    pub from: Tick,
    /// The tick at which it is over, or the scenario's length.
    pub until: Tick,
}

/// Gives the phases a scenario goes through within its length, if nobody interferes.
pub fn episodes(scenario: &Arc<Scenario>, seed: u64) -> Vec<Episode> {
    let mut simulation = Simulation::new(Arc::clone(scenario), seed);
    let mut episodes: Vec<Episode> = Vec::new();
    for tick in 0..scenario.length.0 {
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
    }
    episodes
}

impl Plan {
    /// Plans visits to the beginning and to a late part of each phase of a scenario, in order,
    /// without the hours in between.
    pub fn each_phase(scenario: &Arc<Scenario>) -> Self {
        let visit = |episode: Episode| {
            let length = episode.until.start().since_start() - episode.from.start().since_start();
            let beginning = Step::Visit {
                from: Some(episode.from.start()),
                // Slow enough to stay near the beginning, however long the watcher takes.
                per_poll: (length / 40).min(Duration::from_secs(5)),
                answers: 4,
            };
            // Far enough from the next phase that a slow answer does not fall into it.
            let late = Step::Glimpse {
                at: episode.from.start() + length.mul_f64(0.75),
                answers: 2,
            };
            [beginning, late]
        };
        Self {
            steps: episodes(scenario, SEED)
                .into_iter()
                .flat_map(visit)
                .collect(),
        }
    }

    /// Plans a stretch of a scenario at an even pace.
    pub fn stretch(from: Duration, per_poll: Duration, answers: usize) -> Self {
        Self {
            steps: vec![Step::Visit {
                from: Some(VirtualTime::new(from)),
                per_poll,
                answers,
            }],
        }
    }

    /// Gives the moment the run starts at.
    pub fn start(&self) -> VirtualTime {
        match self.steps.first() {
            Some(Step::Visit {
                from: Some(from), ..
            }) => *from,
            _ => VirtualTime::ZERO,
        }
    }
}

/// The seed plans are made with. Phases depend on it by no more than a control period or so, which
/// is what the margins of a visit are for.
const SEED: u64 = 1;

#[cfg(test)]
mod tests {
    use super::*;

    fn phases_of(name: &str) -> Vec<Phase> {
        let scenario = Scenario::builtin(name).unwrap().unwrap();
        episodes(&Arc::new(scenario), SEED)
            .iter()
            .map(|episode| episode.phase)
            .collect()
    }

    #[test]
    fn built_in_scenarios_go_through_the_phases_they_are_named_for() {
        use Phase::{Cancelled, Error, Finished, Heating, Idle, Paused, Printing};
        assert_eq!(phases_of("heat-up"), [Idle, Heating, Printing]);
        assert_eq!(phases_of("printing"), [Idle, Heating, Printing, Finished]);
        assert_eq!(
            phases_of("paused"),
            [Idle, Heating, Printing, Paused, Printing, Finished]
        );
        assert_eq!(phases_of("error"), [Idle, Heating, Error, Idle]);
        assert_eq!(
            phases_of("finished"),
            [Idle, Heating, Printing, Finished, Idle]
        );
        assert_eq!(
            phases_of("cancelled"),
            [Idle, Heating, Printing, Cancelled, Idle]
        );
    }
}
