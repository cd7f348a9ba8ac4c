//! What the host watches for.

use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde::de::value::MapAccessDeserializer;
use serde::de::{self, Deserializer, MapAccess, Visitor};

use super::super::bounds;
use super::super::quantity::{At, Degrees, Number, Seconds};

/// What the host watches for. A rule that is not named has the bounds that are usual at the part;
/// `false` switches it off.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Protection")]
pub(in super::super) struct RawProtection {
    /// Short for heating-too-slow.rise-celsius.
    #[schemars(transform = bounds::RISE.shown())]
    pub(in super::super) rise_celsius: Option<At<Degrees>>,
    /// Short for heating-too-slow.period.
    #[schemars(transform = bounds::PROTECTION_S.shown())]
    pub(in super::super) rise_within: Option<At<Seconds>>,
    /// Short for fallen-away.below-celsius.
    #[schemars(transform = bounds::FALL.shown())]
    pub(in super::super) fall_celsius: Option<At<Degrees>>,
    /// Short for fallen-away.period.
    #[schemars(transform = bounds::PROTECTION_S.shown())]
    pub(in super::super) fall_for: Option<At<Seconds>>,
    /// How far above max-celsius the hard maximum lies, in kelvin. Default 15.
    #[schemars(transform = bounds::ABOVE.shown())]
    pub(in super::super) above_celsius: Option<At<Degrees>>,
    /// No temperature for too long.
    pub(in super::super) sensor_lost: Option<At<RawRule<RawSensorLost>>>,
    /// Above the hard maximum.
    pub(in super::super) above_maximum: Option<At<RawRule<RawAboveMaximum>>>,
    /// Below the lowest believable temperature.
    pub(in super::super) below_minimum: Option<At<RawRule<RawBelowMinimum>>>,
    /// More change from reading to reading than the physics allow.
    pub(in super::super) jump: Option<At<RawRule<RawJump>>>,
    /// Running away upwards from the target.
    pub(in super::super) above_target: Option<At<RawRule<RawAboveTarget>>>,
    /// Below the target after it had been reached.
    pub(in super::super) fallen_away: Option<At<RawRule<RawFallenAway>>>,
    /// Heated, and does not rise.
    pub(in super::super) heating_too_slow: Option<At<RawRule<RawHeatingTooSlow>>>,
}

/// Is a rule: its bounds, or whether it is watched at all.
#[derive(Debug)]
pub(in super::super) enum RawRule<T> {
    /// `true` watches it with the usual bounds, `false` not at all.
    Watched(bool),
    /// With these bounds.
    With(T),
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for RawRule<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either<T>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>> Visitor<'de> for Either<T> {
            type Value = RawRule<T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a table of bounds, or `false` to switch the rule off")
            }
            fn visit_bool<E: de::Error>(self, watched: bool) -> Result<Self::Value, E> {
                Ok(RawRule::Watched(watched))
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
                T::deserialize(MapAccessDeserializer::new(map)).map(RawRule::With)
            }
        }
        deserializer.deserialize_any(Either(PhantomData))
    }
}

impl<T: JsonSchema> JsonSchema for RawRule<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        json_schema!({ "anyOf": [{ "type": "boolean" }, generator.subschema_for::<T>()] })
    }
}

/// Bounds for no temperature.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "SensorLost")]
pub(in super::super) struct RawSensorLost {
    /// For how long the temperature may be missing. Default 1s.
    #[schemars(transform = bounds::PATIENCE_S.shown())]
    pub(in super::super) period: Option<At<Seconds>>,
}

/// Bounds for the hard maximum.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "AboveMaximum")]
pub(in super::super) struct RawAboveMaximum {
    /// The hard maximum, in Celsius. Default max-celsius and above-celsius together.
    #[schemars(transform = bounds::HARD_MAXIMUM.shown())]
    pub(in super::super) maximum_celsius: Option<At<Degrees>>,
    /// For how long the reading may be above it. Default 0s.
    #[schemars(transform = bounds::PATIENCE_S.shown())]
    pub(in super::super) period: Option<At<Seconds>>,
}

/// Bounds for the lowest believable temperature.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "BelowMinimum")]
pub(in super::super) struct RawBelowMinimum {
    /// The lowest believable temperature, in Celsius. Default -15.
    #[schemars(transform = bounds::HARD_MINIMUM.shown())]
    pub(in super::super) minimum_celsius: Option<At<Degrees>>,
    /// For how long the reading may be below it. Default 0s.
    #[schemars(transform = bounds::PATIENCE_S.shown())]
    pub(in super::super) period: Option<At<Seconds>>,
}

/// Bounds for the change from reading to reading: one of the two.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "Jump")]
pub(in super::super) struct RawJump {
    /// Largest believable change between two readings, in kelvin. Default 20.
    #[schemars(transform = bounds::CHANGE.shown())]
    pub(in super::super) change_celsius: Option<At<Degrees>>,
    /// Largest believable rate, K/s.
    #[schemars(transform = bounds::RATE.shown())]
    pub(in super::super) kelvin_per_second: Option<At<Number>>,
}

/// Bounds for running away upwards.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "AboveTarget")]
pub(in super::super) struct RawAboveTarget {
    /// How far above the target is still fine, in kelvin. Default 25 for an extruder, else 15.
    #[schemars(transform = bounds::ABOVE_TARGET.shown())]
    pub(in super::super) above_celsius: Option<At<Degrees>>,
    /// For how long the reading may be higher. Default 0s.
    #[schemars(transform = bounds::PATIENCE_S.shown())]
    pub(in super::super) period: Option<At<Seconds>>,
    /// Whether to watch with the heater off too, against the lowest reading since. Default false.
    pub(in super::super) also_when_off: Option<bool>,
}

/// Bounds for falling below a target that had been reached.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "FallenAway")]
pub(in super::super) struct RawFallenAway {
    /// How far below the target is still fine, in kelvin. Default 15; 20 for a chamber.
    #[schemars(transform = bounds::FALL.shown())]
    pub(in super::super) below_celsius: Option<At<Degrees>>,
    /// How close below the target counts as reached, in kelvin. Default 2.
    #[schemars(transform = bounds::REACHED.shown())]
    pub(in super::super) reached_within_celsius: Option<At<Degrees>>,
    /// For how long the reading may be lower. Default 45s; 1m for a chamber.
    #[schemars(transform = bounds::PROTECTION_S.shown())]
    pub(in super::super) period: Option<At<Seconds>>,
}

/// Bounds for heating without a rise.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a table")]
#[schemars(rename = "HeatingTooSlow")]
pub(in super::super) struct RawHeatingTooSlow {
    /// The rise asked for, in kelvin. Default 2.
    #[schemars(transform = bounds::RISE.shown())]
    pub(in super::super) rise_celsius: Option<At<Degrees>>,
    /// The time it has for that. Default 1m; 10m for a chamber.
    #[schemars(transform = bounds::PROTECTION_S.shown())]
    pub(in super::super) period: Option<At<Seconds>>,
    /// Power from which on it counts as heating, percent. Default 95.
    #[schemars(transform = bounds::PERCENT.shown())]
    pub(in super::super) at_power_percent: Option<At<Number>>,
    /// Distance below the target from which on it counts as heating, in kelvin. Default 5.
    #[schemars(transform = bounds::BELOW_TARGET.shown())]
    pub(in super::super) below_celsius: Option<At<Degrees>>,
}
