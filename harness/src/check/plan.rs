//! What is done to a watcher during a check.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use coldbed_mock::drift::Drift;
use coldbed_mock::fault::ScopedFault;
use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::{Phase, Simulation, Tick, VirtualTime};

use crate::oracle::Timing;
use crate::watcher::CommandKind;

/// Is what is done to a watcher: what stands round it, and step by step what happens.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    /// What stands round the watcher.
    pub setup: Setup,
    /// The steps, in order.
    pub steps: Vec<Step>,
}

/// Is what stands round a watcher during a run.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Setup {
    /// The host speaks TLS; the watcher is told the authority to trust.
    pub tls: bool,
    /// There is another origin that a redirect can name, and requests there are recorded.
    pub elsewhere: bool,
    /// The watcher is told to ask so often, where its command takes `{interval}`.
    pub interval: Option<Duration>,
    /// So many more of the same watcher; only their requests are recorded.
    pub companions: usize,
    /// How often the use of memory and files is sampled; `None` does not.
    pub measure_every: Option<Duration>,
}

impl Setup {
    /// Tells whether the watcher is asked for something that it need not be able to do, so that one
    /// that asks nothing can still be measured otherwise.
    pub fn is_beyond_the_usual(&self) -> bool {
        self.tls || self.interval.is_some()
    }
}

/// Is one step.
#[derive(Debug, Clone)]
pub enum Step {
    /// Sets the virtual clock, and waits until the watcher was answered so often, and until what was
    /// before is no excuse any more.
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
    /// Sets the virtual clock, and waits for nothing.
    Jump {
        /// The moment to jump to; `None` goes on from where the clock is.
        to: Option<VirtualTime>,
        /// How much virtual time passes in one poll interval from here on.
        per_poll: Duration,
    },
    /// Changes the bodies from here on.
    RaiseDrift(Drift),
    /// Ends every change of the bodies.
    ClearDrifts,
    /// Raises a fault, and waits for nothing but that it is in force.
    RaiseFault(ScopedFault),
    /// Redirects every request to the other origin ([`Setup::elsewhere`]) with this status.
    RedirectElsewhere(u16),
    /// Ends every fault.
    ClearFaults,
    /// Raises a fault, lets it last for longer than the watcher may take to say unknown, clears it
    /// and waits for the recovery.
    Outage(Outage),
    /// Lets something happen to the printer or its host now: the keys of an event of a scenario,
    /// without those that say when.
    Happen(serde_json::Map<String, serde_json::Value>),
    /// Tells the watcher to ask something of the printer.
    Command(CommandKind),
    /// Plays the scenario from where the clock is, with whatever its timeline brings, and waits until
    /// the watcher has recovered from the last of it, or is no longer excused.
    Play {
        /// The moment at which it is over.
        until: VirtualTime,
        /// How much virtual time passes in one poll interval.
        per_poll: Duration,
    },
    /// Lets real time pass.
    Wait(Duration),
    /// Waits for something to happen from here on, but no longer than so.
    Await {
        /// What is waited for.
        what: Awaited,
        /// For how long at most; a run goes on after it all the same.
        within: Duration,
    },
    /// Stops the watcher's processes, as sleep stops a device. What there is no process of goes on.
    Suspend,
    /// Lets the watcher's processes go on.
    Resume,
    /// Carries out steps that are judged by themselves. A watcher that has ended is started again
    /// before them.
    Trial {
        /// What is tried, in words: the drift and its place.
        label: String,
        /// The steps.
        steps: Vec<Step>,
    },
}

/// Is a fault that lasts for a while.
#[derive(Debug, Clone)]
pub struct Outage {
    /// The fault.
    pub fault: ScopedFault,
    /// Where the virtual clock is set once the fault is in force, so that what was true before is
    /// not true any more.
    pub meanwhile: Option<VirtualTime>,
    /// How long it lasts in real time; `None` for as long as the watcher may take to say unknown, and
    /// a poll more.
    pub lasts: Option<Duration>,
}

impl Outage {
    /// Is a fault that lasts for as long as the watcher may take to say unknown.
    pub fn of(fault: impl Into<ScopedFault>) -> Self {
        Self {
            fault: fault.into(),
            meanwhile: None,
            lasts: None,
        }
    }
}

/// Is something that a step waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Awaited {
    /// So many more requests.
    Requests(usize),
    /// So many more good answers.
    Answers(usize),
    /// A claim that the watcher knows.
    LiveClaim,
    /// A claim that the watcher does not know.
    UnknownClaim,
    /// That what the watcher claimed last is that it knows, also if that was before.
    Knowing,
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
    // Many checks ask for those of the same few scenarios. The scenarios are kept with them, so that
    // no other can come to lie at the same address.
    type Known = Vec<(Arc<Scenario>, u64, Vec<Episode>)>;
    static KNOWN: Mutex<Known> = Mutex::new(Vec::new());
    let lock = || KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    let is_it = |known: &&(Arc<Scenario>, u64, Vec<Episode>)| {
        Arc::ptr_eq(&known.0, scenario) && known.1 == seed
    };
    if let Some((_, _, episodes)) = lock().iter().find(is_it) {
        return episodes.clone();
    }
    let episodes = played(scenario, seed);
    lock().push((Arc::clone(scenario), seed, episodes.clone()));
    episodes
}

fn played(scenario: &Arc<Scenario>, seed: u64) -> Vec<Episode> {
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
        Self::of(episodes(scenario, SEED).into_iter().flat_map(visit))
    }

    /// Plans steps with nothing special round the watcher.
    pub fn of(steps: impl IntoIterator<Item = Step>) -> Self {
        Self {
            setup: Setup::default(),
            steps: steps.into_iter().collect(),
        }
    }

    /// Plans a stretch of a scenario at an even pace.
    pub fn stretch(from: Duration, per_poll: Duration, answers: usize) -> Self {
        Self::of([Step::Visit {
            from: Some(VirtualTime::new(from)),
            per_poll,
            answers,
        }])
    }

    /// Tells whether something happens to the printer that its scenario does not plan.
    pub fn has_events(&self) -> bool {
        has_events(&self.steps)
    }

    /// Gives the allowances at the pace the watcher is told to keep.
    pub fn timing(&self, measured: Timing) -> Timing {
        match self.setup.interval {
            Some(interval) => measured.at_interval(interval),
            None => measured,
        }
    }

    /// Gives the moment the run starts at.
    pub fn start(&self) -> VirtualTime {
        start_of(&self.steps)
    }
}

fn has_events(steps: &[Step]) -> bool {
    steps.iter().any(|step| match step {
        Step::Happen(_) => true,
        Step::Trial { steps, .. } => has_events(steps),
        _ => false,
    })
}

fn start_of(steps: &[Step]) -> VirtualTime {
    match steps.first() {
        Some(Step::Visit { from: Some(to), .. } | Step::Jump { to: Some(to), .. }) => *to,
        Some(Step::Glimpse { at, .. }) => *at,
        Some(Step::Trial { steps, .. }) => start_of(steps),
        _ => VirtualTime::ZERO,
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
