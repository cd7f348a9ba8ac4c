//! One event.

use schemars::JsonSchema;
use serde::Deserialize;

use super::super::bounds;
use super::super::quantity::{At, Count, Degrees, Number, Seconds};
use super::super::schema;
use super::RawDrift;
use super::word::read_as_word;
use crate::fault::{Fault, Scope};

/// Something that happens. It waits for one of `at`, `at-progress-percent`, `at-layer` and `when`.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Event")]
pub(in super::super) struct RawEvent {
    /// When it happens. Events at a fixed time stand in order of time.
    #[schemars(transform = bounds::MOMENT_S.shown())]
    pub(in super::super) at: Option<At<Seconds>>,
    /// The running job's true progress by time, percent.
    #[schemars(transform = bounds::PERCENT.shown())]
    pub(in super::super) at_progress_percent: Option<At<Number>>,
    /// The layer, counted from 1, that the running job begins.
    #[schemars(transform = bounds::LAYER.shown())]
    pub(in super::super) at_layer: Option<At<Count>>,
    /// A temperature that a heater's reading passes.
    pub(in super::super) when: Option<At<RawWhen>>,
    /// How long after that it happens. Default 0s.
    #[schemars(transform = bounds::MOMENT_S.shown())]
    pub(in super::super) delay: Option<At<Seconds>>,
    /// With at: how it happens again.
    pub(in super::super) repeat: Option<At<RawRepeat>>,
    /// What happens.
    pub(in super::super) action: At<RawAction>,
    /// The heater it happens to.
    pub(in super::super) heater: Option<At<String>>,
    /// For set-target: the target in Celsius, 0 is off.
    #[schemars(transform = bounds::TARGET.shown())]
    pub(in super::super) celsius: Option<At<Degrees>>,
    /// For sensor-fails: how.
    pub(in super::super) kind: Option<At<RawFault>>,
    /// For a drifting sensor: growth of the deviation, in K/h; above 0 it reads too hot.
    #[schemars(transform = bounds::DRIFT.shown())]
    pub(in super::super) kelvin_per_hour: Option<At<Number>>,
    /// For a loose sensor: the share of readings that find the contact open.
    #[schemars(transform = bounds::PROBABILITY.shown())]
    pub(in super::super) probability: Option<At<Number>>,
    /// For power-dip and host-restart: for how long. For host-updated the same, if it restarts. For
    /// fault-raised and drift-raised: until when, if not until it is cleared.
    #[schemars(transform = bounds::LASTS_S.shown())]
    pub(in super::super) lasts: Option<At<Seconds>>,
    /// For host-updated: the version it has then. Without the key the next one.
    pub(in super::super) version: Option<At<String>>,
    /// For clock-set-back: by how much.
    #[schemars(transform = bounds::SET_BACK_S.shown())]
    pub(in super::super) by: Option<At<Seconds>>,
    /// For fault-raised: the fault, its name or a table of its name and what it needs.
    #[serde(default)]
    #[schemars(schema_with = "schema::fault")]
    pub(in super::super) fault: Option<At<Fault>>,
    /// For fault-raised: what it happens to. Default everything.
    pub(in super::super) scope: Option<At<Scope>>,
    /// For drift-raised: what is other than the dialect says.
    pub(in super::super) drift: Option<At<RawDrift>>,
    /// For fault-raised and drift-raised: a name to clear it by. Default that of the fault or of the
    /// change. For fault-cleared and drift-cleared: the name of what is taken back.
    pub(in super::super) name: Option<At<String>>,
}

/// A temperature that a heater's reading passes; one of the two.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "When")]
pub(in super::super) struct RawWhen {
    /// The heater.
    pub(in super::super) heater: At<String>,
    /// Upwards through this, in Celsius.
    #[schemars(transform = bounds::PASSED.shown())]
    pub(in super::super) above_celsius: Option<At<Degrees>>,
    /// Downwards through this, in Celsius.
    #[schemars(transform = bounds::PASSED.shown())]
    pub(in super::super) below_celsius: Option<At<Degrees>>,
}

/// How something happens again.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Repeat")]
pub(in super::super) struct RawRepeat {
    /// The time from one to the next.
    #[schemars(transform = bounds::JOB_S.shown())]
    pub(in super::super) every: At<Seconds>,
    /// How often in all, the first included.
    #[schemars(transform = bounds::TIMES.shown())]
    pub(in super::super) times: At<Count>,
    /// How much earlier or later each but the first may come, at most half of every. Default 0s.
    #[schemars(transform = bounds::MOMENT_S.shown())]
    pub(in super::super) jitter: Option<At<Seconds>>,
}

/// What happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", remote = "Self")]
#[schemars(!remote, inline, rename = "Action")]
pub(in super::super) enum RawAction {
    Pause,
    Resume,
    Cancel,
    MaterialEmpty,
    Jam,
    DoorOpens,
    DoorCloses,
    HeaterFails,
    HeaterMended,
    SensorFails,
    SensorMended,
    SetTarget,
    Reset,
    ClearJob,
    PowerDip,
    HostRestart,
    HostUpdated,
    ClockSetBack,
    KeyRevoked,
    FaultRaised,
    FaultCleared,
    DriftRaised,
    DriftCleared,
}

/// How a sensor goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", remote = "Self")]
#[schemars(!remote, inline, rename = "Fault")]
pub(in super::super) enum RawFault {
    Open,
    Short,
    Frozen,
    Drifting,
    Loose,
}

read_as_word!(RawAction, RawFault);
