//! One job from its start to its end.

use super::heaters::Heaters;
use super::motion::plan::{Cursor, ProgramStep, Walked};
use super::progress::{self, Done};
use super::{JobState, JobTruth, Tick};
use crate::scenario::{JobPlan, PlannedProgram, Program};

/// Is a job that was started.
#[derive(Debug, Clone)]
pub(super) struct Job {
    id: u32,
    plan: JobPlan,
    state: JobState,
    reason: &'static str,
    stage: Stage,
    /// Ticks spent processing, whatever the stage.
    processing_ticks: u64,
    /// Ticks since the program began, waits for heat in it included.
    running_ticks: u64,
    run: Run,
    /// When a cancelled job can stop at last, and by whose wish.
    stops_at: Option<(Tick, &'static str)>,
    /// The progress by time at which it last went on after standing still.
    resumed_at_percent: Option<f64>,
}

/// Says how far a job has come, whether it moves or stands still.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    /// Some heater has not reached its target yet.
    Heating,
    /// All are hot; the whole machine warms through.
    Soaking {
        /// Ticks still to wait.
        left: u64,
    },
    /// The program runs.
    Running,
    /// The program runs and waits for a heater.
    WaitingInProgram,
}

/// Is how far the program has run.
#[derive(Debug, Clone)]
enum Run {
    /// It takes a time.
    Timed {
        /// Ticks done.
        ticks: u64,
    },
    /// It follows a plan.
    Planned {
        /// The place in the plan.
        cursor: Cursor,
        /// Motion and dwells done, s.
        done_s: f64,
        /// The layer last begun.
        layer: u32,
    },
}

/// Says what came of one control period.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Passed {
    /// Nothing to act on.
    On,
    /// The program asks for a person.
    AsksForPause,
    /// The program came to its end.
    Completed,
    /// The program has a line that the host cannot carry out.
    BreaksOff,
    /// A cancelled job has reached the point where it can stop; the reason it was given up for.
    Stopped(&'static str),
}

/// The flow changes from chunk to chunk; the host side follows it once a second.
const FLOW_EVERY: u64 = 10;

impl Job {
    pub(super) fn start(id: u32, plan: JobPlan) -> Self {
        let run = match &plan.program {
            Program::Duration { .. } => Run::Timed { ticks: 0 },
            Program::Planned(_) => Run::Planned {
                cursor: Cursor::new(0.0),
                done_s: 0.0,
                layer: 0,
            },
        };
        Self {
            id,
            plan,
            state: JobState::Processing,
            reason: "job-printing",
            stage: Stage::Heating,
            processing_ticks: 0,
            running_ticks: 0,
            run,
            stops_at: None,
            resumed_at_percent: None,
        }
    }

    pub(super) fn state(&self) -> JobState {
        self.state
    }

    /// Tells whether the job waits for heat, be it running or standing still.
    pub(super) fn waits_for_heat(&self) -> bool {
        self.stage != Stage::Running
    }

    /// Tells whether all heaters are hot and the job waits only for the machine to warm through.
    pub(super) fn soaks(&self) -> bool {
        matches!(self.stage, Stage::Soaking { .. })
    }

    /// Lets one control period pass, up to a tick.
    pub(super) fn step(&mut self, heaters: &mut Heaters, tick: Tick) -> Passed {
        if self.state != JobState::Processing {
            return Passed::On;
        }
        self.processing_ticks += 1;
        if let Some((_, reason)) = self.stops_at.filter(|(at, _)| tick >= *at) {
            return Passed::Stopped(reason);
        }
        match self.stage {
            Stage::Heating => {
                if heaters.all_hot_enough() {
                    let left = self.plan.soak.0;
                    self.stage = if left == 0 {
                        Stage::Running
                    } else {
                        Stage::Soaking { left }
                    };
                }
                Passed::On
            }
            Stage::Soaking { left } => {
                self.stage = match left {
                    0 | 1 => Stage::Running,
                    _ => Stage::Soaking { left: left - 1 },
                };
                Passed::On
            }
            Stage::Running | Stage::WaitingInProgram => {
                self.running_ticks += 1;
                self.run_program(heaters, tick)
            }
        }
    }

    /// Tells for how many periods the job will surely do nothing but go on, so that the heaters may
    /// run ahead of it.
    pub(super) fn quiet_periods(&self) -> u64 {
        if self.state != JobState::Processing {
            return u64::MAX;
        }
        if self.stage != Stage::Running || self.stops_at.is_some() {
            return 0;
        }
        match (&self.plan.program, &self.run) {
            (Program::Duration { ticks, .. }, Run::Timed { ticks: done }) => {
                ticks.0.saturating_sub(*done + 1)
            }
            (Program::Planned(program), Run::Planned { cursor, .. }) => {
                // One period less than there is time for, since times are not exact to the last bit.
                let periods = progress::whole(cursor.quiet_s(&program.plan) / Tick::PERIOD_S);
                let to_next_flow = FLOW_EVERY - self.running_ticks % FLOW_EVERY;
                u64::from(periods).saturating_sub(1).min(to_next_flow)
            }
            _ => 0,
        }
    }

    /// Lets so many of the quiet periods pass from a tick on: the same as as many steps.
    pub(super) fn pass_quietly(&mut self, heaters: &mut Heaters, from: Tick, periods: u64) {
        match &mut self.run {
            Run::Timed { ticks } if self.state == JobState::Processing => {
                self.processing_ticks += periods;
                self.running_ticks += periods;
                *ticks += periods;
            }
            Run::Timed { .. } => {}
            Run::Planned { .. } => {
                for passed in 1..=periods {
                    self.step(heaters, Tick(from.0 + passed));
                }
            }
        }
    }

    fn run_program(&mut self, heaters: &mut Heaters, tick: Tick) -> Passed {
        match (&self.plan.program, &mut self.run) {
            (Program::Duration { ticks, .. }, Run::Timed { ticks: done }) => {
                *done += 1;
                if *done >= ticks.0 {
                    Passed::Completed
                } else {
                    Passed::On
                }
            }
            (
                Program::Planned(program),
                Run::Planned {
                    cursor,
                    done_s,
                    layer,
                },
            ) => {
                let mut walk = Walk {
                    program,
                    cursor,
                    done_s,
                    layer,
                    heaters,
                    tick,
                };
                let (stage, passed) = walk.one_period();
                if self.running_ticks.is_multiple_of(FLOW_EVERY) {
                    walk.follow_the_flow(stage);
                }
                self.stage = stage;
                passed
            }
            // `start` makes the two of one kind.
            _ => Passed::On,
        }
    }

    /// Makes the job stand still.
    pub(super) fn stop(&mut self) {
        self.state = JobState::ProcessingStopped;
        // The printer, not the job, is the cause; the printer's own reasons say which.
        self.reason = "printer-stopped";
    }

    pub(super) fn resume(&mut self) {
        self.state = JobState::Processing;
        self.reason = "job-printing";
        self.resumed_at_percent = Some(self.percent_by_time());
        if let (Program::Planned(program), Run::Planned { cursor, .. }) =
            (&self.plan.program, &mut self.run)
            // A pause in the program is over; a wait for heat goes on.
            && self.stage == Stage::Running
        {
            cursor.release(&program.plan);
        }
    }

    /// Asks the job to stop for good at the next point where it can. Gives true when that is now.
    pub(super) fn cancel(&mut self, reason: &'static str, tick: Tick) -> bool {
        if self.state == JobState::ProcessingStopped || self.plan.stop_point_delay == Tick(0) {
            return true;
        }
        self.reason = "processing-to-stop-point";
        let at = Tick(tick.0 + self.plan.stop_point_delay.0);
        self.stops_at.get_or_insert((at, reason));
        false
    }

    /// Tells whether a cancelled job is on its way to the point where it can stop.
    pub(super) fn is_stopping(&self) -> bool {
        self.stops_at.is_some() && !self.state.is_terminal()
    }

    /// Ends the job for good. `reason` is a keyword of RFC 8011 section 5.3.8.
    pub(super) fn end(&mut self, state: JobState, reason: &'static str) {
        self.state = state;
        self.reason = reason;
    }

    /// Gives the true progress by time, percent.
    pub(super) fn percent_by_time(&self) -> f64 {
        self.done().percent_by_time()
    }

    /// Gives the layer last begun, counted from 1; 0 before the first.
    pub(super) fn layer(&self) -> u32 {
        match (&self.plan.program, &self.run) {
            (Program::Duration { layers, .. }, Run::Timed { .. }) => {
                if self.running_ticks == 0 {
                    return 0;
                }
                let share = self.percent_by_time() / 100.0;
                1 + progress::whole(share * f64::from(*layers)).min(layers.saturating_sub(1))
            }
            (_, Run::Planned { layer, .. }) => *layer,
            _ => 0,
        }
    }

    fn done(&self) -> Done {
        match (&self.plan.program, &self.run) {
            (Program::Duration { ticks, .. }, Run::Timed { ticks: done }) => {
                Done::of_time(seconds(*done), seconds(ticks.0))
            }
            (Program::Planned(program), Run::Planned { cursor, done_s, .. }) => {
                let moment = cursor.moment(&program.plan);
                let totals = &program.plan.totals;
                Done {
                    seconds: *done_s,
                    of_seconds: totals.known_s(),
                    bytes: moment.place.byte,
                    of_bytes: program.bytes,
                    naive_s: moment.naive_done_s,
                    of_naive_s: totals.naive_s,
                }
            }
            _ => Done::of_time(0.0, 1.0),
        }
    }

    pub(super) fn truth(&self) -> JobTruth {
        let done = self.done();
        let is_completed = self.state == JobState::Completed;
        let progress_percent = if is_completed {
            100.0
        } else {
            progress::shown_percent(&self.plan.progress, &done, self.resumed_at_percent)
        };
        let is_over = self.state.is_terminal();
        let true_remaining_seconds = match self.state {
            JobState::Completed => Some(0.0),
            // A job that was given up has no end to come.
            _ if is_over => None,
            _ => Some(done.left_s()),
        };
        let remaining_seconds = if is_completed {
            Some(0.0)
        } else if is_over || self.waits_for_heat() {
            // How long heating will take is not known to the host.
            None
        } else {
            let spent = progress::Spent {
                running_s: seconds(self.running_ticks),
                processing_s: seconds(self.processing_ticks),
                progress_percent,
            };
            progress::estimate_s(&self.plan.estimate, &done, &spent)
        };
        let (height_mm, filament_mm) = self.made();
        JobTruth {
            id: self.id,
            name: self.plan.name.clone(),
            state: self.state,
            reasons: vec![self.reason.to_owned()],
            progress_percent,
            true_progress_percent: done.percent_by_time(),
            elapsed_seconds: seconds(self.processing_ticks),
            remaining_seconds,
            true_remaining_seconds,
            layer: self.layer(),
            height_mm,
            filament_mm,
        }
    }

    /// Gives the height reached and the filament used, mm.
    fn made(&self) -> (f64, Option<f64>) {
        /// Of a job that is only a duration (common practice).
        const LAYER_MM: f64 = 0.2;
        match (&self.plan.program, &self.run) {
            (Program::Planned(program), Run::Planned { cursor, .. }) => {
                let moment = cursor.moment(&program.plan);
                (moment.z_mm, Some(moment.filament_mm))
            }
            _ => (f64::from(self.layer()) * LAYER_MM, None),
        }
    }
}

/// Is one control period of a planned program.
struct Walk<'a> {
    program: &'a PlannedProgram,
    cursor: &'a mut Cursor,
    done_s: &'a mut f64,
    layer: &'a mut u32,
    heaters: &'a mut Heaters,
    tick: Tick,
}

impl Walk<'_> {
    fn one_period(&mut self) -> (Stage, Passed) {
        let mut left_s = Tick::PERIOD_S;
        loop {
            let Walked { used_s, met } = self.cursor.walk(&self.program.plan, left_s);
            *self.done_s += used_s;
            left_s -= used_s;
            match met {
                None => return (Stage::Running, Passed::On),
                Some(ProgramStep::SetTarget { heater, celsius }) => {
                    self.heaters.set_target_of(heater, celsius, self.tick);
                }
                Some(ProgramStep::WaitTarget {
                    heater, celsius, ..
                }) => {
                    self.heaters.set_target_of(heater, celsius, self.tick);
                    if !self.heaters.is_hot_enough(heater) {
                        return (Stage::WaitingInProgram, Passed::On);
                    }
                    self.cursor.release(&self.program.plan);
                }
                Some(ProgramStep::Fan { fraction }) => self.heaters.set_fan_fraction(fraction),
                Some(ProgramStep::LayerChange { index, .. }) => *self.layer = index,
                Some(ProgramStep::Pause { .. }) => return (Stage::Running, Passed::AsksForPause),
                Some(ProgramStep::End { .. }) if self.program.plan.broken.breaks_off() => {
                    return (Stage::Running, Passed::BreaksOff);
                }
                Some(ProgramStep::End { .. }) => return (Stage::Running, Passed::Completed),
                // They take time and are never handed over.
                Some(ProgramStep::Motion(_) | ProgramStep::Dwell { .. }) => {}
            }
        }
    }

    fn follow_the_flow(&mut self, stage: Stage) {
        let flow = match stage {
            Stage::Running => self.cursor.moment(&self.program.plan).flow_mm3_per_s,
            _ => 0.0,
        };
        // In steps of 0.1 mm3/s: below that the heat it takes is less than the sensor's noise, and
        // each new value costs the plant an exponential.
        self.heaters
            .set_flow_mm3_per_s((flow * 10.0).round() / 10.0);
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "a job has far fewer than 2^53 ticks"
)]
fn seconds(ticks: u64) -> f64 {
    // Divided, not multiplied: 3 * 0.1 is not 0.3 in binary, 3 / 10 is the nearest there is.
    ticks as f64 / 10.0
}
