//! Heaters that tests are made with.

use super::HeaterSpec;
use proptest::prelude::*;

/// The room the samples start in, °C.
pub(crate) const ROOM: f64 = 25.0;

/// Nozzle (common practice): tau 166.7 s, T_ss 358.3 °C.
pub(crate) const NOZZLE: HeaterSpec = HeaterSpec {
    heat_capacity_joules_per_kelvin: 20.0,
    loss_watts_per_kelvin: 0.12,
    loss_fan_watts_per_kelvin: 0.02,
    max_watts: 40.0,
    dead_time_s: 0.0,
    sensor_lag_s: 0.0,
    start_celsius: ROOM,
};

/// Bed (common practice): tau 437.5 s, T_ss 137.5 °C.
pub(crate) const BED: HeaterSpec = HeaterSpec {
    heat_capacity_joules_per_kelvin: 700.0,
    loss_watts_per_kelvin: 1.6,
    loss_fan_watts_per_kelvin: 0.5,
    max_watts: 180.0,
    ..NOZZLE
};

/// Chamber without an element (common practice).
pub(crate) const CHAMBER: HeaterSpec = HeaterSpec {
    heat_capacity_joules_per_kelvin: 3000.0,
    loss_watts_per_kelvin: 2.0,
    loss_fan_watts_per_kelvin: 0.0,
    max_watts: 0.0,
    ..NOZZLE
};

/// Gives numbers spread evenly over the powers of ten.
pub(crate) fn spread(lowest_power: f64, highest_power: f64) -> impl Strategy<Value = f64> {
    (lowest_power..highest_power).prop_map(|power| 10_f64.powf(power))
}

prop_compose! {
    /// Any heater a printer could have, and some that none has; no dead time.
    pub(crate) fn any_spec()(
        capacity in spread(-1.0, 4.0),
        loss in spread(-3.0, 2.0),
        watts in spread(0.0, 3.0),
        lag in prop_oneof![Just(0.0), spread(-3.0, 3.0)],
        start in -30.0..400.0_f64,
    ) -> HeaterSpec {
        HeaterSpec {
            heat_capacity_joules_per_kelvin: capacity,
            loss_watts_per_kelvin: loss,
            loss_fan_watts_per_kelvin: 0.0,
            max_watts: watts,
            dead_time_s: 0.0,
            sensor_lag_s: lag.max(if lag > 0.0 { 1e-3 } else { 0.0 }),
            start_celsius: start,
        }
    }
}
