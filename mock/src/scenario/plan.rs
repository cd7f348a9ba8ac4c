//! The checked plan of a scenario: what all later code trusts.
//!
//! Every value is in range, every name is resolved to an index, every file is read, every controller
//! is tuned. Times are ticks of the simulation's grid.

use std::sync::Arc;

use indexmap::IndexMap;

use crate::drift::Drift;
use crate::fault::ScopedFault;
use crate::sim::control::PidSettings;
use crate::sim::motion::plan::Plan;
use crate::sim::plant::{Coupling, HeaterSpec};
use crate::sim::protection::Rules;
use crate::sim::sensor::{FaultKind, SensorSetup};
use crate::sim::{HeaterKind, Tick};

/// Is a scenario that was checked: a printer, its jobs and its timeline.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// The built-in name or the file's name.
    pub name: String,
    /// What it shows, in one line.
    pub title: String,
    /// The room.
    pub room: RoomPlan,
    /// `printer-up-time` at the start, in whole seconds.
    pub up_time_at_start_s: u64,
    /// The host's own clock at the start: seconds since 1970-01-01T00:00:00Z.
    pub clock_at_start_unix_s: f64,
    /// The span its author cares about; the printer itself goes on after it.
    pub length: Tick,
    /// Heaters by name, in the file's order.
    pub heaters: IndexMap<String, HeaterPlan>,
    /// Heat that goes between heaters; indices into [`Self::heaters`].
    pub couplings: Vec<Coupling>,
    /// What is melted.
    pub material: MaterialPlan,
    /// Jobs in the order in which they are started.
    pub jobs: Vec<JobPlan>,
    /// What happens. Those at a fixed time are in order of time.
    pub events: Vec<Event>,
}

/// Is the room's temperature over the day: a cosine round its mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoomPlan {
    /// Mean over the day; without a swing the temperature at all times, C.
    pub celsius: f64,
    /// Half the difference between the warmest and the coldest moment, K; 0 for none.
    pub swing_celsius: f64,
    /// When it is warmest, after the scenario's start, s.
    pub warmest_at_s: f64,
}

/// Is one heater, its sensor and its control.
#[derive(Debug, Clone, PartialEq)]
pub struct HeaterPlan {
    /// What it heats.
    pub kind: HeaterKind,
    /// The body, its element, dead time and sensor lag. It starts at the room's temperature.
    pub spec: HeaterSpec,
    /// Highest target that may be set, C.
    pub max_celsius: f64,
    /// Sensor and the host's conversion.
    pub sensor: SensorSetup,
    /// How the host holds the target.
    pub control: ControlPlan,
    /// What the host watches for.
    pub protection: Rules,
}

/// Says how the host holds a target.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ControlPlan {
    /// Full power below the band, none above it.
    OnOff {
        /// Half the width of the band, K.
        hysteresis_celsius: f64,
    },
    /// Proportional, integral, derivative; written in the file or tuned by a rule it names.
    Pid(PidSettings),
}

/// Is what is melted; it takes heat from the extruder as it flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MaterialPlan {
    /// Density, g/mm3.
    pub density_g_per_mm3: f64,
    /// Specific heat, J/(g K).
    pub specific_heat_joules_per_g_kelvin: f64,
}

/// Is one job.
#[derive(Debug, Clone, PartialEq)]
pub struct JobPlan {
    /// `job-name`.
    pub name: String,
    /// When it is started.
    pub start: Start,
    /// What it does once everything is hot.
    pub program: Program,
    /// Targets set at its start and waited for, by heater index, in Celsius.
    pub targets_celsius: Vec<(usize, f64)>,
    /// How long it waits after all targets are reached, so that the whole machine warms through.
    pub soak: Tick,
    /// How long a cancelled job still goes on until it can stop.
    pub stop_point_delay: Tick,
    /// How the host guesses the time left.
    pub estimate: EstimatePlan,
    /// How the host counts progress.
    pub progress: ProgressPlan,
}

/// Says when a job is started.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// At a fixed time.
    At(Tick),
    /// So long after the job before it came to an end, whichever end.
    AfterPrevious(Tick),
}

/// Says what a job does once everything is hot.
#[derive(Debug, Clone, PartialEq)]
pub enum Program {
    /// It takes a time, evenly, in so many layers of 0.2 mm.
    Duration {
        /// The time.
        ticks: Tick,
        /// The layers.
        layers: u32,
    },
    /// It carries out a part program.
    Planned(Arc<PlannedProgram>),
}

/// Is a part program that was read and planned.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedProgram {
    /// The plan.
    pub plan: Plan,
    /// The length of the whole text, bytes.
    pub bytes: u64,
}

/// Says how the host guesses the time left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EstimatePlan {
    /// The rule.
    pub by: Estimator,
    /// For how long after the program has begun it says nothing.
    pub unknown_for: Tick,
    /// Factor on the result; 1 for none.
    pub bias: f64,
}

/// Names a rule for guessing the time left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Estimator {
    /// The time the program will really take. No host knows that; it is the yardstick.
    Exact,
    /// Time spent so far, divided by the share of the text done: jumps early, settles late.
    File,
    /// Time spent so far since the start, heating included, divided by the progress shown: far too
    /// long at first.
    Elapsed,
    /// Distance over speed, as if nothing had to accelerate: too short all along.
    Naive,
}

/// Says how the host counts progress.
#[derive(Debug, Clone, PartialEq)]
pub struct ProgressPlan {
    /// What is counted.
    pub by: ProgressMeasure,
    /// At how many percent of the measure 100 is shown already; 100 for an honest host.
    pub full_at_percent: f64,
    /// How many percent points it falls back by when the job goes on after standing still; it
    /// catches up over twice as many.
    pub falls_back_percent: f64,
    /// Where it stands still for a while though the job goes on.
    pub stalls: Vec<Stall>,
}

/// Names what progress counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ProgressMeasure {
    /// Time of the program done.
    Time,
    /// Bytes of the text done; for a job without a text the same as time.
    File,
}

/// Is a place where the progress shown stands still.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stall {
    /// The percentage at which it stops.
    pub at_percent: f64,
    /// How far the measure runs on until it shows again, percent points.
    pub until_percent: f64,
}

/// Is something that happens.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// What it waits for.
    pub when: When,
    /// How long after that it happens.
    pub delay: Tick,
    /// What happens.
    pub action: Action,
    /// Whether it happens again.
    pub repeat: Option<Repeat>,
}

/// Says what an event waits for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum When {
    /// A fixed time.
    At(Tick),
    /// The running job's true progress by time, percent.
    Progress {
        /// The percentage.
        percent: f64,
    },
    /// The running job begins a layer, counted from 1.
    Layer {
        /// The layer.
        layer: u32,
    },
    /// A heater's reading passes a temperature, from the side it was on when the event was armed.
    Temperature {
        /// Index into [`Scenario::heaters`].
        heater: usize,
        /// The temperature.
        celsius: f64,
        /// Whether it has to pass upwards.
        rising: bool,
    },
}

/// Says how an event happens again: so often in all, so long apart, give or take the jitter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Repeat {
    /// The time from one to the next.
    pub every: Tick,
    /// How often in all, the first included.
    pub times: u32,
    /// Each but the first comes earlier or later by at most this; drawn from the seed.
    pub jitter: Tick,
}

/// Says what happens.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// The operator pauses the job at the machine.
    Pause,
    /// The operator lets the job go on, after whatever stopped it was put right.
    Resume,
    /// The operator cancels the job at the machine.
    Cancel,
    /// The filament runs out: the job stands still.
    MaterialEmpty,
    /// The nozzle clogs or the filament jams: the job stands still.
    Jam,
    /// The door is opened: a job stands still and none can be started.
    DoorOpens,
    /// The door is closed; the job still waits to be resumed.
    DoorCloses,
    /// A heater's element breaks.
    HeaterFails {
        /// Index into [`Scenario::heaters`].
        heater: usize,
    },
    /// A heater's element is repaired.
    HeaterMended {
        /// Index into [`Scenario::heaters`].
        heater: usize,
    },
    /// A heater's sensor goes wrong.
    SensorFails {
        /// Index into [`Scenario::heaters`].
        heater: usize,
        /// How.
        kind: FaultKind,
    },
    /// A heater's sensor is repaired.
    SensorMended {
        /// Index into [`Scenario::heaters`].
        heater: usize,
    },
    /// The operator sets a heater's target at the machine.
    SetTarget {
        /// Index into [`Scenario::heaters`].
        heater: usize,
        /// The target; 0 is off.
        celsius: f64,
    },
    /// The operator clears an error.
    Reset,
    /// The finished job is taken off the host's list.
    ClearJob,
    /// Machine and host lose power for a while: heaters off, job lost, up-time from the start.
    PowerDip {
        /// For how long.
        lasts: Tick,
    },
    /// The host's program restarts; the machine goes on by itself.
    HostRestart {
        /// For how long it answers nobody.
        lasts: Tick,
    },
    /// The host gets other software; the machine goes on by itself.
    HostUpdated {
        /// The version it has then; `None` for the next one.
        version: Option<String>,
        /// For how long it answers nobody meanwhile; `None` if it never stops answering.
        lasts: Option<Tick>,
    },
    /// The host's own clock is set back.
    ClockSetBack {
        /// By how much, s.
        by_s: f64,
    },
    /// The key is no longer good.
    KeyRevoked,
    /// A fault comes into force on the wire.
    FaultRaised {
        /// The name by which it can be cleared.
        name: String,
        /// What it is, and what it happens to.
        fault: Arc<ScopedFault>,
        /// For how long; `None` until it is cleared.
        lasts: Option<Tick>,
    },
    /// The faults of a name that events have raised are taken back.
    FaultCleared {
        /// The name.
        name: String,
    },
    /// A drift comes into force: bodies are other than the dialect says.
    DriftRaised {
        /// The name by which it can be cleared.
        name: String,
        /// What it is.
        drift: Arc<Drift>,
        /// For how long; `None` until it is cleared.
        lasts: Option<Tick>,
    },
    /// The drifts of a name that events have raised are taken back.
    DriftCleared {
        /// The name.
        name: String,
    },
}
