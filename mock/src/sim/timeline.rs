//! What is still to happen, and when.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::sync::Arc;

use xxhash_rust::xxh3::xxh3_64_with_seed;

use super::Tick;
use super::heaters::Heaters;
use super::job::Job;
use crate::scenario::{Action, Event, Repeat, Scenario, When};

/// Holds a scenario's events until they happen.
#[derive(Debug, Clone)]
pub(super) struct Timeline {
    scenario: Arc<Scenario>,
    /// Moment, order of arrival, index of the event: two at the same moment keep their order.
    due: BinaryHeap<Reverse<(Tick, u64, usize)>>,
    arrivals: u64,
    /// Events that wait for something other than a time, by index.
    armed: Vec<usize>,
}

/// Is what events may wait for, at one tick.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sight<'a> {
    /// The running job.
    pub(super) job: Option<&'a Job>,
    /// The heaters with their readings.
    pub(super) heaters: &'a Heaters,
}

impl Timeline {
    pub(super) fn new(scenario: &Arc<Scenario>, seed: u64) -> Self {
        let mut timeline = Self {
            scenario: Arc::clone(scenario),
            due: BinaryHeap::new(),
            arrivals: 0,
            armed: Vec::new(),
        };
        for (index, event) in scenario.events.iter().enumerate() {
            match event.when {
                When::At(at) => timeline.schedule_all(index, event, at, seed),
                _ => timeline.armed.push(index),
            }
        }
        timeline
    }

    /// Gives the next action whose time has come, once.
    pub(super) fn pop(&mut self, now: Tick) -> Option<Action> {
        let Reverse((at, _, index)) = *self.due.peek()?;
        if at > now {
            return None;
        }
        self.due.pop();
        Some(self.scenario.events[index].action.clone())
    }

    /// Gives the next tick at which something may happen, as far as it is known at a tick.
    pub(super) fn next(&self, now: Tick) -> Tick {
        if !self.armed.is_empty() {
            return Tick(now.0 + 1);
        }
        self.due
            .peek()
            .map_or(Tick(u64::MAX), |Reverse((at, _, _))| *at)
    }

    /// Schedules every event whose condition has come true.
    pub(super) fn look(&mut self, now: Tick, sight: Sight<'_>) {
        if self.armed.is_empty() {
            return;
        }
        let scenario = Arc::clone(&self.scenario);
        let (met, waiting): (Vec<usize>, Vec<usize>) = self
            .armed
            .iter()
            .copied()
            .partition(|index| sight.meets(scenario.events[*index].when));
        self.armed = waiting;
        for index in met {
            let at = Tick(now.0 + scenario.events[index].delay.0);
            self.schedule(at, index);
        }
    }

    fn schedule_all(&mut self, index: usize, event: &Event, at: Tick, seed: u64) {
        let first = at.0 + event.delay.0;
        self.schedule(Tick(first), index);
        let Some(repeat) = event.repeat else { return };
        for round in 1..u64::from(repeat.times) {
            let even = first + round * repeat.every.0;
            self.schedule(Tick(jittered(even, &repeat, (seed, index, round))), index);
        }
    }

    fn schedule(&mut self, at: Tick, index: usize) {
        self.due.push(Reverse((at, self.arrivals, index)));
        self.arrivals += 1;
    }
}

impl Sight<'_> {
    fn meets(&self, when: When) -> bool {
        match when {
            // It is scheduled already.
            When::At(_) => false,
            When::Progress { percent } => {
                self.job.is_some_and(|job| job.percent_by_time() >= percent)
            }
            When::Layer { layer } => self.job.is_some_and(|job| job.layer() >= layer),
            When::Temperature {
                heater,
                celsius,
                rising,
            } => {
                let reading = self.heaters.reading_celsius(heater);
                if rising {
                    reading >= celsius
                } else {
                    reading <= celsius
                }
            }
        }
    }
}

/// Moves a moment by at most the jitter to either side; a pure function of the seed and of which
/// event and round it is.
fn jittered(even: u64, repeat: &Repeat, (seed, index, round): (u64, usize, u64)) -> u64 {
    let mut which = [0; 16];
    which[..8].copy_from_slice(&(index as u64).to_le_bytes());
    which[8..].copy_from_slice(&round.to_le_bytes());
    let span = 2 * repeat.jitter.0 + 1;
    let shift = xxh3_64_with_seed(&which, seed) % span;
    (even + shift).saturating_sub(repeat.jitter.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn jitter_stays_within_its_bound_and_differs_by_seed_and_round() {
        let repeat = Repeat {
            every: Tick(1000),
            times: 50,
            jitter: Tick(100),
        };
        let of = |seed| -> Vec<u64> {
            (1..50)
                .map(|round| jittered(round * 1000, &repeat, (seed, 0, round)))
                .collect()
        };
        let moments = of(1);
        for (round, at) in (1_u64..).zip(&moments) {
            assert!((round * 1000 - 100..=round * 1000 + 100).contains(at));
        }
        assert_ne!(moments, of(2));
        // 49 draws from 201 values: all equal to the even moment would need a broken hash.
        assert!(moments.iter().any(|at| at % 1000 != 0));
    }
}
