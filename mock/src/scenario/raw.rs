//! The keys of a scenario file and their types, before any value is checked.

use indexmap::IndexMap;
use serde::Deserialize;
use toml::Spanned;

use super::quantity::{Degrees, Seconds};
use crate::sim::HeaterKind;

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawScenario {
    pub(super) title: String,
    pub(super) room_celsius: Option<Spanned<Degrees>>,
    pub(super) up_time_at_start: Option<Spanned<Seconds>>,
    pub(super) length: Spanned<Seconds>,
    pub(super) heaters: IndexMap<String, RawHeater>,
    #[serde(default)]
    pub(super) job: Vec<RawJob>,
    #[serde(default)]
    pub(super) event: Vec<RawEvent>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawHeater {
    pub(super) kind: HeaterKind,
    pub(super) heat_capacity_joules_per_kelvin: Spanned<f64>,
    pub(super) loss_watts_per_kelvin: Spanned<f64>,
    pub(super) power_watts: Spanned<f64>,
    pub(super) max_celsius: Spanned<Degrees>,
    pub(super) dead_time: Option<Spanned<Seconds>>,
    pub(super) noise_celsius: Option<Spanned<Degrees>>,
    pub(super) control: RawControl,
    #[serde(default)]
    pub(super) protection: RawProtection,
}

// One flat table instead of an enum by `method`: serde loses the place of each value inside a
// tagged enum, and an error without its line is no help.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawControl {
    pub(super) method: Spanned<RawMethod>,
    pub(super) hysteresis_celsius: Option<Spanned<Degrees>>,
    pub(super) gain_watts_per_kelvin: Option<Spanned<f64>>,
    pub(super) integral_time: Option<Spanned<Seconds>>,
    pub(super) derivative_time: Option<Spanned<Seconds>>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum RawMethod {
    OnOff,
    Pid,
}

#[derive(Debug, Default, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawProtection {
    pub(super) rise_celsius: Option<Spanned<Degrees>>,
    pub(super) rise_within: Option<Spanned<Seconds>>,
    pub(super) fall_celsius: Option<Spanned<Degrees>>,
    pub(super) fall_for: Option<Spanned<Seconds>>,
    pub(super) above_celsius: Option<Spanned<Degrees>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawJob {
    pub(super) name: String,
    pub(super) at: Spanned<Seconds>,
    pub(super) duration: Spanned<Seconds>,
    pub(super) soak: Option<Spanned<Seconds>>,
    #[serde(default)]
    pub(super) targets_celsius: IndexMap<Spanned<String>, Spanned<Degrees>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) struct RawEvent {
    pub(super) at: Spanned<Seconds>,
    pub(super) action: Spanned<RawAction>,
    pub(super) heater: Option<Spanned<String>>,
    pub(super) celsius: Option<Spanned<Degrees>>,
}

/// Is what happens: the word after `action =`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum RawAction {
    Pause,
    Resume,
    Cancel,
    MaterialEmpty,
    HeaterFails,
    SetTarget,
    Reset,
    ClearJob,
}
