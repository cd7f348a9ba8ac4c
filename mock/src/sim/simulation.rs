//! The printer as a whole, advanced lazily over virtual time.

use std::sync::Arc;

use indexmap::IndexMap;

use super::heater::Heater;
use super::job::Job;
use super::plant::{HeaterSpec, ThermalNetwork};
use super::{
    Command, HeaterTruth, JobState, Phase, PrinterState, PrinterTruth, Refused, Tick, Truth,
    VirtualTime,
};
use crate::scenario::{Action, Scenario};

/// Is the simulated printer: a pure function of scenario, seed, commands and virtual time.
///
/// It moves only when somebody asks for a later moment, so the cost of an idle hour is paid once
/// and no task ticks in the background. It never goes back.
#[derive(Debug, Clone)]
pub struct Simulation {
    scenario: Arc<Scenario>,
    tick: Tick,
    network: ThermalNetwork,
    heaters: Vec<Heater>,
    /// What the controllers ask for in the present period; kept to spare an allocation a tick.
    asked_watts: Vec<f64>,
    job: Option<Job>,
    next_job: usize,
    next_event: usize,
    stop: Option<Stop>,
    revision: u64,
}

/// Says why the printer is stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stop {
    /// Somebody paused the job.
    Paused,
    /// The filament ran out.
    MaterialEmpty,
    /// Protection tripped; the keyword says on what.
    Tripped(&'static str),
}

impl Stop {
    /// Gives the `printer-state-reasons` keyword.
    fn reason(self) -> &'static str {
        match self {
            Self::Paused => "paused",
            Self::MaterialEmpty => "material-empty",
            Self::Tripped(reason) => reason,
        }
    }
}

impl Simulation {
    /// Puts the printer at its scenario's start.
    pub fn new(scenario: Arc<Scenario>, seed: u64) -> Self {
        let room = scenario.room_celsius;
        let heaters: Vec<Heater> = (0..)
            .zip(scenario.heaters.values())
            .map(|(index, plan)| Heater::new(plan, room, seed, index))
            .collect();
        let mut simulation = Self {
            network: network(&scenario),
            asked_watts: vec![0.0; heaters.len()],
            scenario,
            tick: Tick(0),
            heaters,
            job: None,
            next_job: 0,
            next_event: 0,
            stop: None,
            revision: 0,
        };
        simulation.apply_due();
        simulation
    }

    /// Gives the scenario this printer follows.
    pub fn scenario(&self) -> &Arc<Scenario> {
        &self.scenario
    }

    /// Counts the commands that changed something: two answers of the same tick may differ only if
    /// this does.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Gives the truth at a moment. A moment before the one reached already gives that one.
    pub fn truth_at(&mut self, at: VirtualTime) -> Truth {
        self.advance_to(at.tick());
        self.truth()
    }

    /// Lets the printer run up to a tick.
    pub fn advance_to(&mut self, tick: Tick) {
        while self.tick < tick {
            self.step();
        }
    }

    /// Asks for something at a moment.
    ///
    /// # Errors
    /// [`Refused`] when it does not fit the state at that moment; nothing has changed then.
    pub fn command(&mut self, at: VirtualTime, command: Command) -> Result<(), Refused> {
        self.advance_to(at.tick());
        match command {
            Command::PauseJob => self.pause(),
            Command::ResumeJob => self.resume(),
            Command::CancelJob => self.cancel("job-canceled-by-user"),
            Command::SetTarget { heater, celsius } => self.set_target(&heater, celsius),
        }?;
        self.revision += 1;
        Ok(())
    }

    fn step(&mut self) {
        for (heater, watts) in self.heaters.iter_mut().zip(&mut self.asked_watts) {
            *watts = heater.ask_watts();
        }
        self.network.step_watts(&self.asked_watts);
        self.tick = Tick(self.tick.0 + 1);
        let mut trip = None;
        for (index, heater) in self.heaters.iter_mut().enumerate() {
            let sensor_celsius = self.network.sensor_celsius(index);
            trip = trip.or(heater.see(sensor_celsius, self.asked_watts[index], self.tick));
        }
        if let Some(reason) = trip {
            self.trip(reason);
        }
        let all_hot = self.heaters.iter().all(Heater::is_hot_enough);
        if let Some(job) = &mut self.job
            && job.step(all_hot)
        {
            self.switch_heaters_off();
        }
        self.apply_due();
    }

    /// Starts jobs and carries out events whose time has come.
    fn apply_due(&mut self) {
        let scenario = Arc::clone(&self.scenario);
        while let Some(plan) = scenario.jobs.get(self.next_job)
            && plan.at <= self.tick
        {
            self.next_job += 1;
            if self.can_start_job() {
                for &(heater, celsius) in &plan.targets_celsius {
                    self.heaters[heater].set_target(celsius, self.tick);
                }
                let id = u32::try_from(self.next_job).unwrap_or(u32::MAX);
                self.job = Some(Job::start(id, plan.clone()));
            }
        }
        while let Some(event) = scenario.events.get(self.next_event)
            && event.at <= self.tick
        {
            self.next_event += 1;
            self.happen(&event.action);
        }
    }

    fn happen(&mut self, action: &Action) {
        match *action {
            // What an operator does at the wrong moment has no effect, as on a real machine.
            Action::Pause => drop(self.pause()),
            Action::Resume => drop(self.resume()),
            Action::Cancel => drop(self.cancel("job-canceled-at-device")),
            Action::MaterialEmpty => self.stop_job(Stop::MaterialEmpty),
            Action::HeaterFails { heater } => self.network.set_power_factor(heater, 0.0),
            Action::SetTarget { heater, celsius } => {
                self.heaters[heater].set_target(celsius, self.tick);
            }
            Action::Reset => self.reset(),
            Action::ClearJob => {
                if self
                    .job
                    .as_ref()
                    .is_some_and(|job| job.state().is_terminal())
                {
                    self.job = None;
                }
            }
        }
    }

    fn can_start_job(&self) -> bool {
        let busy = self
            .job
            .as_ref()
            .is_some_and(|job| !job.state().is_terminal());
        !busy && self.stop.is_none()
    }

    fn pause(&mut self) -> Result<(), Refused> {
        match self.job.as_ref().map(Job::state) {
            Some(JobState::Processing) => {
                self.stop_job(Stop::Paused);
                Ok(())
            }
            _ => Err(self.wrong_phase("pause the job")),
        }
    }

    fn stop_job(&mut self, why: Stop) {
        if let Some(job) = &mut self.job
            && job.state() == JobState::Processing
        {
            job.stop();
            self.stop = Some(why);
        }
    }

    fn resume(&mut self) -> Result<(), Refused> {
        match &mut self.job {
            Some(job) if job.state() == JobState::ProcessingStopped => {
                job.resume();
                self.stop = None;
                Ok(())
            }
            _ => Err(self.wrong_phase("resume the job")),
        }
    }

    fn cancel(&mut self, reason: &'static str) -> Result<(), Refused> {
        match &mut self.job {
            Some(job) if !job.state().is_terminal() => {
                job.end(JobState::Canceled, reason);
                self.stop = None;
                self.switch_heaters_off();
                Ok(())
            }
            _ => Err(self.wrong_phase("cancel the job")),
        }
    }

    fn set_target(&mut self, name: &str, celsius: f64) -> Result<(), Refused> {
        let Some((index, _, plan)) = self.scenario.heaters.get_full(name) else {
            return Err(Refused::UnknownHeater {
                name: name.to_owned(),
            });
        };
        if !(0.0..=plan.max_celsius).contains(&celsius) {
            return Err(Refused::TargetOutOfRange {
                celsius,
                max_celsius: plan.max_celsius,
            });
        }
        // A tripped protection stays in force until somebody clears it at the machine.
        if celsius > 0.0 && matches!(self.stop, Some(Stop::Tripped(_))) {
            return Err(self.wrong_phase("heat"));
        }
        self.heaters[index].set_target(celsius, self.tick);
        Ok(())
    }

    fn trip(&mut self, reason: &'static str) {
        self.switch_heaters_off();
        if let Some(job) = &mut self.job
            && !job.state().is_terminal()
        {
            job.end(JobState::Aborted, "aborted-by-system");
        }
        self.stop = Some(Stop::Tripped(reason));
    }

    fn reset(&mut self) {
        if matches!(self.stop, Some(Stop::Tripped(_))) {
            self.stop = None;
            self.job = None;
            for heater in &mut self.heaters {
                heater.reset_protection();
            }
        }
    }

    fn switch_heaters_off(&mut self) {
        for heater in &mut self.heaters {
            heater.set_target(0.0, self.tick);
        }
    }

    fn wrong_phase(&self, wanted: &'static str) -> Refused {
        Refused::WrongPhase {
            wanted,
            phase: self.phase(),
        }
    }

    /// Gives the phase at the moment reached, without the cost of the whole truth.
    pub fn phase(&self) -> Phase {
        if matches!(self.stop, Some(Stop::Tripped(_))) {
            return Phase::Error;
        }
        match self
            .job
            .as_ref()
            .map(|job| (job.state(), job.waits_for_heat()))
        {
            Some((JobState::Completed, _)) => Phase::Finished,
            Some((JobState::Canceled, _)) => Phase::Cancelled,
            Some((JobState::Aborted, _)) => Phase::Error,
            Some((JobState::ProcessingStopped, _)) => Phase::Paused,
            Some((JobState::Processing, true)) => Phase::Heating,
            Some((JobState::Processing, false)) => Phase::Printing,
            Some((JobState::Pending | JobState::PendingHeld, _)) => Phase::Idle,
            None if self.heaters.iter().any(|heater| !heater.is_hot_enough()) => Phase::Heating,
            None => Phase::Idle,
        }
    }

    fn truth(&self) -> Truth {
        let at = self.tick.start();
        let phase = self.phase();
        Truth {
            at,
            phase,
            printer: PrinterTruth {
                state: match (self.stop, phase) {
                    (Some(_), _) => PrinterState::Stopped,
                    (None, Phase::Heating | Phase::Printing) if self.job.is_some() => {
                        PrinterState::Processing
                    }
                    _ => PrinterState::Idle,
                },
                reasons: self.reasons(phase),
                up_time_seconds: self.scenario.up_time_at_start_s.max(1)
                    + at.since_start().as_secs(),
            },
            heaters: self.heater_truths(),
            job: self.job.as_ref().map(Job::truth),
        }
    }

    fn heater_truths(&self) -> IndexMap<String, HeaterTruth> {
        let names = self.scenario.heaters.keys().enumerate();
        names
            .zip(&self.heaters)
            .map(|((index, name), heater)| {
                let true_celsius = self.network.block_celsius(index);
                let power_watts = self.network.power_watts(index);
                (name.clone(), heater.truth(true_celsius, power_watts))
            })
            .collect()
    }

    /// Collects `printer-state-reasons`. `…-report` is the suffix of what affects no output
    /// (RFC 8011 section 5.4.12); a keyword without one counts as an error.
    fn reasons(&self, phase: Phase) -> Vec<String> {
        let mut reasons: Vec<String> = Vec::new();
        reasons.extend(self.stop.map(|stop| stop.reason().to_owned()));
        let mut add = |reason: String| {
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        };
        for heater in &self.heaters {
            let word = heater.kind().word();
            if phase == Phase::Heating && heater.target_celsius() > 0.0 {
                // A soak counts as heating: the job waits for warmth, whatever the sensor says.
                let soaking = self.heaters.iter().all(Heater::is_hot_enough);
                if soaking || !heater.is_hot_enough() {
                    add(format!("{word}-heating-report"));
                }
            }
            if heater.cools_down() {
                add(format!("{word}-cooling-report"));
            }
        }
        reasons
    }
}

/// Builds the bodies that get warm.
///
/// # Panics
/// When the scenario's own bounds let a number through that the plant does not take: our own defect,
/// and a property test looks for it.
fn network(scenario: &Scenario) -> ThermalNetwork {
    let specs: Vec<HeaterSpec> = scenario
        .heaters
        .values()
        .map(|plan| HeaterSpec {
            heat_capacity_joules_per_kelvin: plan.heat_capacity_joules_per_kelvin,
            loss_watts_per_kelvin: plan.loss_watts_per_kelvin,
            loss_fan_watts_per_kelvin: 0.0,
            max_watts: plan.power_watts,
            dead_time_s: plan.dead_time_s,
            sensor_lag_s: 0.0,
            start_celsius: scenario.room_celsius,
        })
        .collect();
    match ThermalNetwork::new(Tick::PERIOD_S, scenario.room_celsius, &specs, &[]) {
        Ok(network) => network,
        Err(error) => panic!("a checked scenario holds a number the plant refuses: {error}"),
    }
}

#[cfg(test)]
mod tests;
