//! What a heater is made of, in numbers, and the limits of these numbers.

use super::PlantError;

/// Describes one heater.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeaterSpec {
    /// Heat capacity of the heated body, J/K.
    pub heat_capacity_joules_per_kelvin: f64,
    /// Loss to the room with the part fan off and no filament moving, W/K.
    pub loss_watts_per_kelvin: f64,
    /// What the part fan at full speed adds to the loss, W/K; 0 for a heater the fan does not reach.
    pub loss_fan_watts_per_kelvin: f64,
    /// Full power of the element, W; 0 for a body without an element, such as a passive chamber.
    pub max_watts: f64,
    /// Time from a change of power to the first change of temperature, s; rounded to whole control
    /// periods.
    pub dead_time_s: f64,
    /// Time constant by which the sensor trails the body, s; 0 for none.
    pub sensor_lag_s: f64,
    /// Temperature of body and sensor at the start, °C.
    pub start_celsius: f64,
}

/// Describes the heat that goes between two heaters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coupling {
    /// Index of the one heater.
    pub one: usize,
    /// Index of the other.
    pub other: usize,
    /// Heat that flows from the warmer to the colder, W per K of difference.
    pub watts_per_kelvin: f64,
}

/// Gives the heat that moving filament carries away, in W per K above the room.
///
/// The filament comes in at room temperature and leaves at the heater's, so it acts as one more
/// loss: flow × density × specific heat. The heat of fusion is left out, because usual filament
/// plastics have little or none.
///
/// # Source
/// Energy balance of a steady stream. Example (common practice, figures from memory): 4.8 mm³/s of
/// 1.24 g/cm³ = 1.24e-3 g/mm³ and 1.8 J/gK, 190 K above the room: 2.0 W.
pub fn melting_watts_per_kelvin(
    flow_mm3_per_s: f64,
    density_g_per_mm3: f64,
    specific_heat_joules_per_g_kelvin: f64,
) -> f64 {
    flow_mm3_per_s * density_g_per_mm3 * specific_heat_joules_per_g_kelvin
}

/// Is one bounded quantity.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bound {
    quantity: &'static str,
    min: f64,
    max: f64,
    unit: &'static str,
}

impl Bound {
    const fn new(quantity: &'static str, min: f64, max: f64, unit: &'static str) -> Self {
        Self {
            quantity,
            min,
            max,
            unit,
        }
    }

    /// Passes a value inside the bounds on; `NaN` is outside.
    pub(super) fn check(self, value: f64) -> Result<f64, PlantError> {
        if (self.min..=self.max).contains(&value) {
            return Ok(value);
        }
        Err(PlantError::OutOfRange {
            quantity: self.quantity,
            value,
            min: self.min,
            max: self.max,
            unit: self.unit,
        })
    }
}

// Wide limits: they keep the arithmetic finite and the memory small. What is sensible for a printer
// is for the scenario to say.
/// From a thousandth of a second, finer than any control loop of a heater, to a minute.
pub(super) const PERIOD_S: Bound = Bound::new("control period", 1e-3, 60.0, "s");
/// A degree above absolute zero to beyond any element.
pub(super) const CELSIUS: Bound = Bound::new("temperature", -272.15, 2_000.0, "C");
const HEAT_CAPACITY: Bound = Bound::new("heat capacity", 1e-3, 1e9, "J/K");
const LOSS: Bound = Bound::new("loss", 0.0, 1e6, "W/K");
const LOSS_FAN: Bound = Bound::new("loss added by the fan", 0.0, 1e6, "W/K");
const MAX_WATTS: Bound = Bound::new("full power", 0.0, 1e6, "W");
/// Ten minutes: at the shortest period that is 600 000 remembered powers, 5 MB.
const DEAD_TIME_S: Bound = Bound::new("dead time", 0.0, 600.0, "s");
const SENSOR_LAG_S: Bound = Bound::new("sensor lag", 0.0, 1e6, "s");
/// Far below one control period a lag has no effect and only costs digits.
const SHORTEST_SENSOR_LAG_S: f64 = 1e-3;
const COUPLING: Bound = Bound::new("coupling", 0.0, 1e6, "W/K");

impl HeaterSpec {
    /// Holds every number to its limits.
    pub(super) fn check(&self) -> Result<(), PlantError> {
        HEAT_CAPACITY.check(self.heat_capacity_joules_per_kelvin)?;
        LOSS.check(self.loss_watts_per_kelvin)?;
        LOSS_FAN.check(self.loss_fan_watts_per_kelvin)?;
        MAX_WATTS.check(self.max_watts)?;
        DEAD_TIME_S.check(self.dead_time_s)?;
        SENSOR_LAG_S.check(self.sensor_lag_s)?;
        CELSIUS.check(self.start_celsius)?;
        if self.sensor_lag_s > 0.0 && self.sensor_lag_s < SHORTEST_SENSOR_LAG_S {
            return Err(PlantError::SensorLagTooShort {
                value: self.sensor_lag_s,
                min: SHORTEST_SENSOR_LAG_S,
            });
        }
        Ok(())
    }
}

impl Coupling {
    /// Holds the conductance to its limits and both ends to the heaters there are.
    pub(super) fn check(&self, count: usize) -> Result<(), PlantError> {
        COUPLING.check(self.watts_per_kelvin)?;
        if let Some(index) = [self.one, self.other].into_iter().find(|end| *end >= count) {
            return Err(PlantError::NoSuchHeater { index, count });
        }
        if self.one == self.other {
            return Err(PlantError::SelfCoupling { index: self.one });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn melting_at_a_usual_flow_takes_two_watts() {
        // Source: common practice; 4.8 × 1.24e-3 × 1.8 × 190 = 2.0356 W.
        let watts = melting_watts_per_kelvin(4.8, 1.24e-3, 1.8) * 190.0;
        assert!((watts - 2.0).abs() < 0.05, "{watts} W");
    }

    #[test]
    fn a_number_outside_its_limits_is_named_with_them() {
        let error = HEAT_CAPACITY
            .check(f64::NAN)
            .expect_err("NaN is no capacity");
        assert_eq!(
            error.to_string(),
            "heat capacity is NaN J/K (allowed: 0.001 to 1000000000 J/K)"
        );
    }
}
