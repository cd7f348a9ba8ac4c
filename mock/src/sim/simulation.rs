//! The printer as a whole, advanced lazily over virtual time.

mod starting;

use std::sync::Arc;

use self::starting::Queue;
use super::heaters::Heaters;
use super::host::Host;
use super::in_force::{Absence, Trouble, Troubles, WireChange};
use super::job::{Job, Passed};
use super::timeline::{Sight, Timeline};
use super::{
    Command, JobState, Phase, PrinterState, PrinterTruth, Refused, Tick, Truth, VirtualTime,
};
use crate::scenario::{Action, Scenario};

/// Is the simulated printer: a pure function of scenario, seed, commands and issued events with their
/// virtual times, and virtual time.
///
/// It moves only when somebody asks for a later moment, so the cost of an idle hour is paid once
/// and no task ticks in the background. It never goes back.
#[derive(Debug, Clone)]
pub struct Simulation {
    scenario: Arc<Scenario>,
    seed: u64,
    tick: Tick,
    heaters: Heaters,
    host: Host,
    timeline: Timeline,
    job: Option<Job>,
    queue: Queue,
    stop: Option<Stop>,
    door_is_open: bool,
    troubles: Troubles,
    revision: u64,
}

/// Says why the printer is stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stop {
    /// Somebody paused the job.
    Paused,
    /// The filament ran out.
    MaterialEmpty,
    /// The nozzle clogged or the filament jammed.
    Jam,
    /// Somebody opened the door.
    DoorOpen,
    /// Protection tripped; the keyword says on what.
    Tripped(&'static str),
}

impl Stop {
    /// Gives the `printer-state-reasons` keyword.
    fn reason(self) -> &'static str {
        match self {
            Self::Paused => "paused",
            Self::MaterialEmpty => "material-empty",
            // A clogged nozzle has no keyword of its own; this one fits.
            Self::Jam => "extruder-jam",
            Self::DoorOpen => "door-open",
            Self::Tripped(reason) => reason,
        }
    }
}

impl Simulation {
    /// Puts the printer at its scenario's start.
    pub fn new(scenario: Arc<Scenario>, seed: u64) -> Self {
        let mut simulation = Self {
            heaters: Heaters::new(&scenario, seed),
            host: Host::new(&scenario),
            timeline: Timeline::new(&scenario, seed),
            queue: Queue::new(&scenario),
            scenario,
            seed,
            tick: Tick(0),
            job: None,
            stop: None,
            door_is_open: false,
            troubles: Troubles::default(),
            revision: 0,
        };
        simulation.plan_next_start(Tick(0));
        simulation.apply_due();
        simulation
    }

    /// Gives the scenario this printer follows.
    pub fn scenario(&self) -> &Arc<Scenario> {
        &self.scenario
    }

    /// Gives the seed this printer began with.
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// Gives the moment reached: the beginning of the tick that the printer stands at.
    pub fn reached(&self) -> VirtualTime {
        self.tick.start()
    }

    /// Counts the commands and issued events that changed something: two answers of the same tick may differ only if
    /// this does.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Lists every change so far of what the timeline does to the wire, with its tick, in order. Who
    /// knows how many there were before reads on from there, and so misses none between two looks.
    pub fn wire_changes(&self) -> &[(Tick, WireChange)] {
        self.troubles.changes()
    }

    /// Tells whether the timeline can do something to the wire by itself, so that somebody has to
    /// look although nobody asks.
    pub fn acts_on_wire(&self) -> bool {
        self.host.comes_back(self.tick).is_some()
            || !self.troubles.in_force().is_empty()
            || self.scenario.acts_on_wire()
    }

    /// Gives the truth at a moment. A moment before the one reached already gives that one.
    pub fn truth_at(&mut self, at: VirtualTime) -> Truth {
        self.advance_to(at.tick());
        self.truth()
    }

    /// Lets the printer run up to a tick.
    pub fn advance_to(&mut self, tick: Tick) {
        while self.tick < tick {
            let periods = self.quiet_periods().min(tick.0 - self.tick.0);
            if periods > 1 {
                self.run(periods);
            } else {
                self.step();
            }
        }
    }

    /// Tells for how many periods nothing happens but that heaters and job go on, each by itself.
    fn quiet_periods(&self) -> u64 {
        // The tick at which something happens is stepped to, so it does not count.
        let to = |at: Tick| at.0.saturating_sub(self.tick.0 + 1);
        let job = self.job.as_ref().map_or(u64::MAX, Job::quiet_periods);
        self.heaters
            .quiet_periods(self.tick)
            .min(job)
            .min(to(self.timeline.next(self.tick)))
            .min(self.queue.next_start().map_or(u64::MAX, to))
            .min(self.troubles.next_end().map_or(u64::MAX, to))
            .min(self.host.comes_back(self.tick).map_or(u64::MAX, to))
    }

    /// Lets quiet periods pass: the same as as many steps, at less cost. A day has 864 000 of them,
    /// and somebody waits for the answer.
    fn run(&mut self, periods: u64) {
        let from = self.tick;
        let (passed, trip) = self.heaters.run(from, periods);
        // A trip ends the job in the last period before the job's own step, as it does in `step`.
        if let Some(job) = &mut self.job {
            job.pass_quietly(&mut self.heaters, from, passed - 1);
        }
        self.tick = Tick(from.0 + passed);
        self.after_heaters(trip);
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
            Command::StartJob { job } => self.start_on_request(job.as_deref()),
            Command::SetTarget { heater, celsius } => self.set_target(&heater, celsius),
        }?;
        self.revision += 1;
        Ok(())
    }

    /// Lets something happen at a moment, as if the scenario's timeline had it there. The action is
    /// one that this printer's scenario has read: [`Scenario::action`].
    ///
    /// It comes after what the timeline has at that tick, and after earlier ones of the same tick.
    pub fn issue(&mut self, at: VirtualTime, action: &Action) {
        self.advance_to(at.tick());
        self.happen(action);
        self.revision += 1;
    }

    fn step(&mut self) {
        self.tick = Tick(self.tick.0 + 1);
        let trip = self.heaters.step(self.tick);
        self.after_heaters(trip);
    }

    /// Does what is to be done in a period once the heaters are through with it.
    fn after_heaters(&mut self, trip: Option<&'static str>) {
        if let Some(reason) = trip {
            self.trip(reason);
        }
        if let Some(job) = &mut self.job {
            match job.step(&mut self.heaters, self.tick) {
                Passed::On => {}
                Passed::AsksForPause => self.stop_job(Stop::Paused),
                Passed::Completed => {
                    self.end_job(JobState::Completed, "job-completed-successfully");
                }
                Passed::BreaksOff => self.end_job(JobState::Aborted, "document-format-error"),
                Passed::Stopped(reason) => {
                    self.end_job(JobState::Canceled, reason);
                    self.stop = None;
                }
            }
        }
        self.apply_due();
    }

    /// Starts jobs and carries out events whose time has come.
    fn apply_due(&mut self) {
        // What ends at a tick has ended before anything else begins at it.
        if self.host.is_back_since(self.tick) {
            self.troubles.note(self.tick, WireChange::HostCame);
        }
        self.troubles.end_due(self.tick);
        self.start_due_job();
        let running = self.job.as_ref().filter(|job| !job.state().is_terminal());
        self.timeline.look(
            self.tick,
            Sight {
                job: running,
                heaters: &self.heaters,
            },
        );
        while let Some(action) = self.timeline.pop(self.tick) {
            self.happen(&action);
        }
    }

    /// Ends the job for good and switches the heaters off.
    fn end_job(&mut self, state: JobState, reason: &'static str) {
        if let Some(job) = &mut self.job {
            job.end(state, reason);
        }
        self.heaters.switch_off(self.tick);
        self.plan_next_start(self.tick);
    }

    fn happen(&mut self, action: &Action) {
        match *action {
            // What an operator does at the wrong moment has no effect, as on a real machine.
            Action::Pause => drop(self.pause()),
            Action::Resume => drop(self.resume()),
            Action::Cancel => drop(self.cancel("job-canceled-at-device")),
            Action::MaterialEmpty => self.stop_job(Stop::MaterialEmpty),
            Action::Jam => self.stop_job(Stop::Jam),
            Action::DoorOpens => {
                self.door_is_open = true;
                self.stop_job(Stop::DoorOpen);
            }
            Action::DoorCloses => self.door_is_open = false,
            Action::HeaterFails { heater } => self.heaters.set_power_factor(heater, 0.0),
            Action::HeaterMended { heater } => self.heaters.set_power_factor(heater, 1.0),
            Action::SensorFails { heater, kind } => {
                self.heaters.unit(heater).break_sensor(kind, self.tick);
            }
            Action::SensorMended { heater } => self.heaters.unit(heater).mend_sensor(self.tick),
            Action::SetTarget { heater, celsius } => {
                self.heaters.unit(heater).set_target(celsius, self.tick);
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
            Action::PowerDip { lasts } => self.lose_power(lasts),
            Action::HostRestart { lasts } => self.leave(Absence::Restart, lasts),
            Action::HostUpdated { ref version, lasts } => {
                self.host.update(version.clone());
                if let Some(lasts) = lasts {
                    self.leave(Absence::Restart, lasts);
                }
            }
            Action::ClockSetBack { by_s } => self.host.set_clock_back(by_s),
            Action::KeyRevoked => {
                self.host.revoke_key();
                self.troubles.note(self.tick, WireChange::KeyRevoked);
            }
            Action::FaultRaised {
                ref name,
                ref fault,
                lasts,
            } => {
                let fault = Trouble::Fault(Arc::clone(fault));
                self.troubles.begin(self.tick, name, fault, lasts);
            }
            Action::FaultCleared { ref name } => self.troubles.clear_faults(self.tick, name),
            Action::DriftRaised {
                ref name,
                ref drift,
                lasts,
            } => {
                let drift = Trouble::Drift(Arc::clone(drift));
                self.troubles.begin(self.tick, name, drift, lasts);
            }
            Action::DriftCleared { ref name } => self.troubles.clear_drifts(self.tick, name),
        }
    }

    /// Lets the host answer nobody for a while.
    fn leave(&mut self, absence: Absence, lasts: Tick) {
        self.host.restart(self.tick, lasts);
        self.troubles.note(self.tick, WireChange::HostWent(absence));
    }

    fn lose_power(&mut self, lasts: Tick) {
        self.leave(Absence::PowerLoss, lasts);
        self.heaters.switch_off(self.tick);
        self.heaters.reset_protection();
        // What a host knows of its job is gone with its memory.
        self.job = None;
        self.stop = None;
        self.plan_next_start(self.tick);
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
            Some(job) if job.state() == JobState::ProcessingStopped && !self.door_is_open => {
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
                if job.cancel(reason, self.tick) {
                    self.end_job(JobState::Canceled, reason);
                    self.stop = None;
                }
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
        self.heaters.unit(index).set_target(celsius, self.tick);
        Ok(())
    }

    fn trip(&mut self, reason: &'static str) {
        let is_over = self
            .job
            .as_ref()
            .is_none_or(|job| job.state().is_terminal());
        if is_over {
            self.heaters.switch_off(self.tick);
        } else {
            self.end_job(JobState::Aborted, "aborted-by-system");
        }
        self.stop = Some(Stop::Tripped(reason));
    }

    fn reset(&mut self) {
        if matches!(self.stop, Some(Stop::Tripped(_))) {
            self.stop = None;
            self.job = None;
            self.heaters.reset_protection();
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
        let phase = self.phase();
        let heaters = self.heaters.truths(&self.scenario, self.tick);
        Truth {
            at: self.tick.start(),
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
                up_time_seconds: self.host.up_time_s(self.tick),
                clock_unix_seconds: self.host.clock_unix_s(self.tick),
                host_answers: self.host.answers(self.tick),
                key_is_good: self.host.key_is_good(),
                host_version: self.host.version().map(str::to_owned),
                host_updates: self.host.updates(),
            },
            safe_to_touch: heaters.values().all(|heater| heater.safe_to_touch),
            heaters,
            job: self.job.as_ref().map(Job::truth),
            in_force: self.troubles.in_force().to_vec(),
        }
    }

    /// Collects `printer-state-reasons`. `…-report` is the suffix of what affects no output,
    /// `…-warning` of what a job can still complete with (RFC 8011 section 5.4.12); a keyword
    /// without one counts as an error.
    fn reasons(&self, phase: Phase) -> Vec<String> {
        let mut reasons: Vec<String> = Vec::new();
        reasons.extend(self.stop.map(|stop| stop.reason().to_owned()));
        if self.door_is_open && self.stop != Some(Stop::DoorOpen) {
            reasons.push("door-open-warning".to_owned());
        }
        if self.job.as_ref().is_some_and(Job::is_stopping) {
            reasons.push("stopping-report".to_owned());
        }
        // A soak counts as heating: the job waits for warmth, whatever the sensors say.
        let soaks = self.job.as_ref().is_some_and(Job::soaks);
        let mut add = |reason: String| {
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        };
        for heater in self.heaters.iter() {
            let word = heater.kind().word();
            let is_on = heater.target_celsius() > 0.0;
            if phase == Phase::Heating && is_on && (soaks || !heater.is_hot_enough()) {
                add(format!("{word}-heating-report"));
            }
            if heater.cools_down() {
                add(format!("{word}-cooling-report"));
            }
        }
        reasons
    }
}

#[cfg(test)]
mod tests;
