//! Which job is started, when, and on whose wish.

use std::collections::VecDeque;
use std::sync::Arc;

use super::Simulation;
use crate::scenario::{Scenario, Start};
use crate::sim::job::Job;
use crate::sim::{Refused, Tick};

/// Holds the jobs that wait to be started, and what is known of those before them.
#[derive(Debug, Clone)]
pub(super) struct Queue {
    /// Indices into the scenario's jobs.
    waiting: VecDeque<usize>,
    /// The one started last.
    last_started: Option<usize>,
    /// The `job-id` given out last. A job that is passed over has had one too.
    last_id: u32,
    /// When the next job is to be started; `None` while that depends on the present one's end.
    next_start: Option<Tick>,
}

impl Queue {
    pub(super) fn new(scenario: &Scenario) -> Self {
        Self {
            waiting: (0..scenario.jobs.len()).collect(),
            last_started: None,
            last_id: 0,
            next_start: None,
        }
    }

    pub(super) fn next_start(&self) -> Option<Tick> {
        self.next_start
    }

    fn next_id(&mut self) -> u32 {
        self.last_id = self.last_id.saturating_add(1);
        self.last_id
    }
}

impl Simulation {
    /// Starts the next job if its time has come, or passes it over if the printer cannot take one.
    pub(super) fn start_due_job(&mut self) {
        if self.queue.next_start.is_none_or(|at| at > self.tick) {
            return;
        }
        let Some(index) = self.queue.waiting.pop_front() else {
            return;
        };
        if self.can_start_job() {
            self.start_job(index);
        } else {
            self.queue.next_id();
            self.plan_next_start(self.tick);
        }
    }

    /// Starts a job because somebody asked for it: one that waits no longer waits then, and one that
    /// ran before runs again.
    pub(super) fn start_on_request(&mut self, name: Option<&str>) -> Result<(), Refused> {
        let index = self.job_asked_for(name)?;
        if !self.can_start_job() {
            let wanted = if self.door_is_open && !self.is_busy() {
                "start a job with the door open"
            } else {
                "start a job"
            };
            return Err(self.wrong_phase(wanted));
        }
        self.queue.waiting.retain(|waiting| *waiting != index);
        self.start_job(index);
        Ok(())
    }

    /// Finds the job: one that waits before one that does not. Two may have the same name.
    fn job_asked_for(&self, name: Option<&str>) -> Result<usize, Refused> {
        let (waiting, jobs) = (&self.queue.waiting, &self.scenario.jobs);
        match name {
            None => waiting
                .front()
                .copied()
                .or(self.queue.last_started)
                // Every one was passed over.
                .or(jobs.len().checked_sub(1))
                .ok_or(Refused::NoJob),
            Some(name) => waiting
                .iter()
                .copied()
                .find(|index| jobs[*index].name == name)
                .or_else(|| jobs.iter().rposition(|job| job.name == name))
                .ok_or_else(|| Refused::UnknownJob {
                    name: name.to_owned(),
                }),
        }
    }

    fn start_job(&mut self, index: usize) {
        let scenario = Arc::clone(&self.scenario);
        let plan = &scenario.jobs[index];
        for &(heater, celsius) in &plan.targets_celsius {
            self.heaters.unit(heater).set_target(celsius, self.tick);
        }
        let id = self.queue.next_id();
        self.queue.last_started = Some(index);
        self.job = Some(Job::start(id, plan.clone()));
        self.plan_next_start(self.tick);
    }

    /// Works out when the next job is to be started, as far as that is known.
    pub(super) fn plan_next_start(&mut self, ended: Tick) {
        let next = self.queue.waiting.front().copied();
        self.queue.next_start = match next.map(|index| self.scenario.jobs[index].start) {
            Some(Start::At(at)) => Some(at),
            Some(Start::AfterPrevious(_)) if self.is_busy() => None,
            Some(Start::AfterPrevious(span)) => Some(Tick(ended.0 + span.0)),
            None => None,
        };
    }

    fn can_start_job(&self) -> bool {
        !self.is_busy() && self.stop.is_none() && !self.door_is_open && self.host.answers(self.tick)
    }

    /// Tells whether a job runs or stands still.
    fn is_busy(&self) -> bool {
        self.job
            .as_ref()
            .is_some_and(|job| !job.state().is_terminal())
    }
}
