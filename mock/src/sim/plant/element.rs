//! The heating element and the losses of the body round it: all that is the same for a heater on its
//! own and for one of a group.

use super::HeaterSpec;
use super::dead_time::DeadTime;

/// Keeps a heater that cools for days out of the numbers next to zero, which some processors
/// multiply a hundred times slower. In K per step; far below the last digit of any reading.
pub(super) const FLOOR: f64 = 1e-200;

/// Turns the power asked for into the power felt, and knows the present loss.
#[derive(Debug, Clone)]
pub(super) struct Element {
    pub(super) spec: HeaterSpec,
    max_watts: f64,
    power_factor: f64,
    fan_fraction: f64,
    flow_watts_per_kelvin: f64,
    power_watts: f64,
    dead_time: DeadTime,
}

impl Element {
    /// Takes a spec that was checked.
    pub(super) fn new(spec: HeaterSpec, period_s: f64) -> Self {
        Self {
            spec,
            max_watts: spec.max_watts,
            power_factor: 1.0,
            fan_fraction: 0.0,
            flow_watts_per_kelvin: 0.0,
            power_watts: 0.0,
            dead_time: DeadTime::new(spec.dead_time_s, period_s),
        }
    }

    /// Takes the power asked for in this period, gives the power felt in it.
    ///
    /// Held to 0 and full power; `NaN` is no power, so that a fault in control never heats.
    #[inline]
    pub(super) fn felt_watts(&mut self, asked_watts: f64) -> f64 {
        self.power_watts = held(asked_watts, self.max_watts) * self.power_factor;
        self.dead_time.pass(self.power_watts)
    }

    /// Gives the power that went into the element in the last period.
    pub(super) fn power_watts(&self) -> f64 {
        self.power_watts
    }

    /// Gives the loss to the room, fan and filament included.
    pub(super) fn loss_watts_per_kelvin(&self) -> f64 {
        self.spec.loss_watts_per_kelvin
            + self.spec.loss_fan_watts_per_kelvin * self.fan_fraction
            + self.flow_watts_per_kelvin
    }

    pub(super) fn set_power_factor(&mut self, factor: f64) {
        self.power_factor = held(factor, 1.0);
    }

    /// Says whether the loss is another one now.
    pub(super) fn set_fan_fraction(&mut self, fraction: f64) -> bool {
        let before = self.loss_watts_per_kelvin();
        self.fan_fraction = held(fraction, 1.0);
        before.to_bits() != self.loss_watts_per_kelvin().to_bits()
    }

    /// Says whether the loss is another one now.
    pub(super) fn set_flow_watts_per_kelvin(&mut self, watts_per_kelvin: f64) -> bool {
        let before = self.loss_watts_per_kelvin();
        self.flow_watts_per_kelvin = held(watts_per_kelvin, MAX_FLOW_WATTS_PER_KELVIN);
        before.to_bits() != self.loss_watts_per_kelvin().to_bits()
    }
}

/// Far above what any nozzle melts, 0.01 to 0.1 W/K; keeps the step's arithmetic finite.
const MAX_FLOW_WATTS_PER_KELVIN: f64 = 1e3;

/// Holds a value to 0 and `max`; `NaN`, which `clamp` would let through, becomes 0.
///
/// Written as comparisons because each is then one instruction, which `f64::max` is not.
#[inline]
fn held(value: f64, max: f64) -> f64 {
    let at_least_0 = if value > 0.0 { value } else { 0.0 };
    if at_least_0 < max { at_least_0 } else { max }
}
