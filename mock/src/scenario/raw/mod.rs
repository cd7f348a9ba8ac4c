//! The keys of a scenario file and their types, before any value is checked.
//!
//! The first sentence of each key is also what an editor shows, by way of the schema.

mod control;
mod drift;
mod event;
mod heater;
mod job;
mod protection;
mod sensor;
mod word;

pub(super) use control::{RawControl, RawMethod, RawTuning};
pub(super) use drift::RawDrift;
pub(super) use event::{RawAction, RawEvent, RawFault, RawWhen};
pub(super) use heater::RawHeater;
pub(super) use job::{
    RawEstimate, RawEstimator, RawJob, RawMeasure, RawMotion, RawOnBrokenLine, RawPrint,
    RawProgress, RawShape,
};
pub(super) use protection::{
    RawAboveMaximum, RawAboveTarget, RawBelowMinimum, RawFallenAway, RawHeatingTooSlow, RawJump,
    RawProtection, RawRule, RawSensorLost,
};
pub(super) use sensor::{RawCurve, RawReports, RawSensor};

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::Deserialize;

use super::bounds;
use super::quantity::{At, Degrees, Number, Seconds, UnixSeconds};
use super::schema::nothing_required;

/// A scenario: a printer, its jobs and its timeline. What the file does not say comes from the file
/// it includes, if any.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Scenario", transform = nothing_required)]
pub(super) struct RawScenario {
    /// A built-in printer or scenario, or a file beside this one, that this file is laid over.
    #[expect(
        dead_code,
        reason = "followed before; here so that it is a key that is known"
    )]
    #[serde(default)]
    pub(super) include: Option<String>,
    /// What the scenario shows, in one line.
    pub(super) title: At<String>,
    /// The span its author cares about; the printer itself goes on after it.
    #[schemars(transform = bounds::MOMENT_S.shown())]
    pub(super) length: At<Seconds>,
    /// Temperature of the room, over the day its mean, in Celsius. Default 22.
    #[schemars(transform = bounds::ROOM_CELSIUS.shown())]
    pub(super) room_celsius: Option<At<Degrees>>,
    /// How far the room is above and below its mean over the day, in kelvin. Default 0.
    #[schemars(transform = bounds::ROOM_SWING.shown())]
    pub(super) room_swing_celsius: Option<At<Degrees>>,
    /// When the room is warmest, after the start. Default 7h.
    #[schemars(transform = bounds::WARMEST_AT_S.shown())]
    pub(super) room_warmest_at: Option<At<Seconds>>,
    /// The host's own clock at the start. Default 2026-01-05T08:00:00Z.
    pub(super) clock_at_start: Option<At<UnixSeconds>>,
    /// For how long the host has been up at the start. Default 1h.
    #[schemars(transform = bounds::UP_TIME_S.shown())]
    pub(super) up_time_at_start: Option<At<Seconds>>,
    /// What is melted.
    #[serde(default)]
    pub(super) material: RawMaterial,
    /// Heaters by name.
    pub(super) heaters: At<IndexMap<String, RawHeater>>,
    /// Heat that goes between two heaters.
    #[serde(default)]
    pub(super) coupling: Vec<RawCoupling>,
    /// Jobs in the order in which they are started.
    #[serde(default)]
    pub(super) job: Vec<RawJob>,
    /// What happens.
    #[serde(default)]
    pub(super) event: Vec<RawEvent>,
}

/// What is melted. It takes heat from the extruder as it flows.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Material")]
pub(super) struct RawMaterial {
    /// Density in g/cm3. Default 1.24.
    #[schemars(transform = bounds::DENSITY.shown())]
    pub(super) density_grams_per_cubic_centimetre: Option<At<Number>>,
    /// Specific heat in J/(g K). Default 1.8.
    #[schemars(transform = bounds::SPECIFIC_HEAT.shown())]
    pub(super) specific_heat_joules_per_gram_kelvin: Option<At<Number>>,
}

/// Heat that goes between two heaters, in proportion to their difference.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Coupling")]
pub(super) struct RawCoupling {
    /// The names of the two heaters.
    // A list, because an array of two would let a third pass unseen.
    #[schemars(length(equal = 2))]
    pub(super) between: At<Vec<At<String>>>,
    /// Heat per difference, W/K.
    #[schemars(transform = bounds::COUPLING.shown())]
    pub(super) watts_per_kelvin: At<Number>,
}
