//! One heater.

use super::super::bounds;
use super::super::error::join;
use super::super::plan::{HeaterPlan, RoomPlan};
use super::super::quantity::span_words;
use super::super::raw::RawHeater;
use super::{Checked, Checker, room};
use crate::sim::plant::HeaterSpec;

impl Checker<'_> {
    pub(super) fn heater(
        &self,
        path: &str,
        raw: &RawHeater,
        room: &RoomPlan,
    ) -> Checked<HeaterPlan> {
        let kind = *raw.kind.get();
        let key = join(path, "max-celsius");
        let max_celsius = self.number(&key, &raw.max_celsius, bounds::MAX_CELSIUS)?;
        let warmest = room.celsius + room.swing_celsius;
        if max_celsius <= warmest {
            let problem = format!("{max_celsius} C is not above the room's {warmest} C");
            return Err(self.error(&raw.max_celsius, &key, problem));
        }
        let spec = self.body(path, raw, room::at_start_celsius(room))?;
        Ok(HeaterPlan {
            kind,
            max_celsius,
            sensor: self.sensor(path, raw)?,
            control: self.control(&join(path, "control"), &raw.control, &spec)?,
            protection: self.protection(&join(path, "protection"), raw, max_celsius)?,
            spec,
        })
    }

    /// Checks what the heater is made of.
    fn body(&self, path: &str, raw: &RawHeater, start_celsius: f64) -> Checked<HeaterSpec> {
        let at = |key| join(path, key);
        Ok(HeaterSpec {
            heat_capacity_joules_per_kelvin: self.number(
                &at("heat-capacity-joules-per-kelvin"),
                &raw.heat_capacity_joules_per_kelvin,
                bounds::HEAT_CAPACITY,
            )?,
            loss_watts_per_kelvin: self.number(
                &at("loss-watts-per-kelvin"),
                &raw.loss_watts_per_kelvin,
                bounds::LOSS,
            )?,
            loss_fan_watts_per_kelvin: self.or_default(
                &at("loss-fan-watts-per-kelvin"),
                raw.loss_fan_watts_per_kelvin.as_ref(),
                bounds::LOSS_FAN,
                0.0,
            )?,
            max_watts: self.number(&at("power-watts"), &raw.power_watts, bounds::POWER)?,
            dead_time_s: self.or_default(
                &at("dead-time"),
                raw.dead_time.as_ref(),
                bounds::DEAD_TIME_S,
                0.0,
            )?,
            sensor_lag_s: self.sensor_lag(&at("sensor-lag"), raw)?,
            start_celsius,
        })
    }

    fn sensor_lag(&self, field: &str, raw: &RawHeater) -> Checked<f64> {
        let Some(lag) = &raw.sensor_lag else {
            return Ok(0.0);
        };
        let lag_s = self.number(field, lag, bounds::SENSOR_LAG_S)?;
        let shortest_s = bounds::SHORTEST_SENSOR_LAG_S;
        if lag_s > 0.0 && lag_s < shortest_s {
            let problem = format!(
                "{} is neither none nor at least {}",
                span_words(lag_s),
                span_words(shortest_s)
            );
            return Err(self.error(lag, field, problem));
        }
        Ok(lag_s)
    }
}
