//! One heater.

use schemars::JsonSchema;
use serde::Deserialize;

use super::super::bounds;
use super::super::quantity::{At, Degrees, Number, Seconds};
use super::super::schema::{heater_kind, nothing_required};
use super::{RawControl, RawProtection, RawSensor};
use crate::sim::HeaterKind;

/// A heater, its sensor and its control.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Heater", transform = nothing_required)]
pub(in super::super) struct RawHeater {
    /// What it heats.
    #[schemars(schema_with = "heater_kind")]
    pub(in super::super) kind: At<HeaterKind>,
    /// Heat capacity of the heated body, J/K.
    #[schemars(transform = bounds::HEAT_CAPACITY.shown())]
    pub(in super::super) heat_capacity_joules_per_kelvin: At<Number>,
    /// Loss to the room, W/K.
    #[schemars(transform = bounds::LOSS.shown())]
    pub(in super::super) loss_watts_per_kelvin: At<Number>,
    /// What the part fan at full speed adds to the loss, W/K. Default 0.
    #[schemars(transform = bounds::LOSS_FAN.shown())]
    pub(in super::super) loss_fan_watts_per_kelvin: Option<At<Number>>,
    /// Power of the element at full duty, W; 0 for a body without one.
    #[schemars(transform = bounds::POWER.shown())]
    pub(in super::super) power_watts: At<Number>,
    /// Highest target that may be set, in Celsius.
    #[schemars(transform = bounds::MAX_CELSIUS.shown())]
    pub(in super::super) max_celsius: At<Degrees>,
    /// Time until a change of power shows in the temperature. Default 0s.
    #[schemars(transform = bounds::DEAD_TIME_S.shown())]
    pub(in super::super) dead_time: Option<At<Seconds>>,
    /// Time constant by which the sensor trails the body. Default 0s, none.
    #[schemars(transform = bounds::SENSOR_LAG_S.shown())]
    pub(in super::super) sensor_lag: Option<At<Seconds>>,
    /// Standard deviation of the reading's noise, in kelvin. Default 0.
    #[schemars(transform = bounds::NOISE.shown())]
    pub(in super::super) noise_celsius: Option<At<Degrees>>,
    /// The sensor and what the host makes of it.
    #[serde(default)]
    pub(in super::super) sensor: RawSensor,
    /// How the host holds the target.
    pub(in super::super) control: RawControl,
    /// What the host watches for.
    #[serde(default)]
    pub(in super::super) protection: RawProtection,
}
