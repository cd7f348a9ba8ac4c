//! How the host holds a target.

use schemars::JsonSchema;
use serde::Deserialize;

use super::super::bounds;
use super::super::quantity::{At, Degrees, Number, Seconds};
use super::super::schema::nothing_required;
use super::word::read_as_word;

// One flat table instead of an enum by `method`: serde loses the place of each value inside a
// tagged enum, and an error without its line is no help.
/// How the host holds the target. Written anew with `method`, it replaces an included one whole.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Control", transform = nothing_required)]
pub(in super::super) struct RawControl {
    /// The kind of controller.
    pub(in super::super) method: At<RawMethod>,
    /// On-off: half the width of the band, in kelvin.
    #[schemars(transform = bounds::HYSTERESIS.shown())]
    pub(in super::super) hysteresis_celsius: Option<At<Degrees>>,
    /// PID: gain, watts per kelvin of error.
    #[schemars(transform = bounds::GAIN.shown())]
    pub(in super::super) gain_watts_per_kelvin: Option<At<Number>>,
    /// PID: integral time.
    #[schemars(transform = bounds::INTEGRAL_TIME_S.shown())]
    pub(in super::super) integral_time: Option<At<Seconds>>,
    /// PID: derivative time. Default 0s, none.
    #[schemars(transform = bounds::DERIVATIVE_TIME_S.shown())]
    pub(in super::super) derivative_time: Option<At<Seconds>>,
    /// PID: a rule that works the gains out from the heater, instead of them.
    pub(in super::super) tuning: Option<At<RawTuning>>,
    /// SIMC: the time in which the closed loop is to follow. Default the dead time, the tight choice.
    #[schemars(transform = bounds::CLOSED_LOOP_S.shown())]
    pub(in super::super) closed_loop_time: Option<At<Seconds>>,
}

/// The kind of controller.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", remote = "Self")]
#[schemars(!remote, inline, rename = "Method")]
pub(in super::super) enum RawMethod {
    OnOff,
    Pid,
}

/// A rule that works out gains.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", remote = "Self")]
#[schemars(!remote, inline, rename = "Tuning")]
pub(in super::super) enum RawTuning {
    SimcPi,
    SimcPid,
    ZieglerNicholsP,
    ZieglerNicholsPi,
    ZieglerNicholsPid,
}

impl RawTuning {
    /// Gives the word as it is written in a file.
    pub(in super::super) const fn word(self) -> &'static str {
        match self {
            Self::SimcPi => "simc-pi",
            Self::SimcPid => "simc-pid",
            Self::ZieglerNicholsP => "ziegler-nichols-p",
            Self::ZieglerNicholsPi => "ziegler-nichols-pi",
            Self::ZieglerNicholsPid => "ziegler-nichols-pid",
        }
    }
}

read_as_word!(RawMethod, RawTuning);
