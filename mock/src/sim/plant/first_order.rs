//! One heater on its own, and its sensor.

use super::discrete::Coefficients;
use super::element::{Element, FLOOR};
use super::spec::{CELSIUS, PERIOD_S};
use super::{HeaterSpec, PlantError};

/// Simulates one heater that no other heater warms.
///
/// Temperatures are kept as the difference to the room, so a heater at rest stays at the room's
/// temperature to the last digit.
#[derive(Debug, Clone)]
pub struct FirstOrder {
    coefficients: Coefficients,
    block: f64,
    sensor: f64,
    room_celsius: f64,
    element: Element,
    period_s: f64,
}

impl FirstOrder {
    /// Builds a heater that is stepped once per period.
    ///
    /// # Errors
    /// [`PlantError::OutOfRange`] and [`PlantError::SensorLagTooShort`] for a number the model
    /// cannot carry.
    pub fn new(spec: HeaterSpec, period_s: f64, room_celsius: f64) -> Result<Self, PlantError> {
        spec.check()?;
        PERIOD_S.check(period_s)?;
        CELSIUS.check(room_celsius)?;
        let above_room = spec.start_celsius - room_celsius;
        let mut heater = Self {
            coefficients: Coefficients::new(1.0, 0.0, 0.0, period_s),
            block: above_room,
            sensor: above_room,
            room_celsius,
            element: Element::new(spec, period_s),
            period_s,
        };
        heater.solve();
        Ok(heater)
    }

    /// Advances by one period with the given power in W and gives what the sensor then has, in °C.
    ///
    /// The power is held to 0 and full power; `NaN` counts as none.
    #[inline]
    pub fn step(&mut self, power_watts: f64) -> f64 {
        let felt = self.element.felt_watts(power_watts);
        let by = &self.coefficients;
        self.sensor = by.sensor_keep * self.sensor
            + (by.sensor_from_block * self.block + (by.sensor_gain * felt + FLOOR));
        self.block = by.block_keep * self.block + (by.block_gain * felt + FLOOR);
        self.room_celsius + self.sensor
    }

    /// Advances by several periods; `ask` gives the power of the coming one in W from what the
    /// sensor has, in °C, and the number of periods passed. Gives what the sensor has in the end.
    ///
    /// Same as as many calls of [`Self::step`], with the state in the processor's registers: through
    /// memory, each step would wait for the one before to be written.
    #[inline]
    pub(super) fn run(&mut self, periods: u64, mut ask: impl FnMut(f64, u64) -> f64) -> f64 {
        let (by, room_celsius) = (self.coefficients, self.room_celsius);
        let (mut block, mut sensor) = (self.block, self.sensor);
        for passed in 0..periods {
            let felt = self.element.felt_watts(ask(room_celsius + sensor, passed));
            sensor = by.sensor_keep * sensor
                + (by.sensor_from_block * block + (by.sensor_gain * felt + FLOOR));
            block = by.block_keep * block + (by.block_gain * felt + FLOOR);
        }
        (self.block, self.sensor) = (block, sensor);
        room_celsius + sensor
    }

    /// Gives the sensor's temperature, °C.
    #[inline]
    pub fn sensor_celsius(&self) -> f64 {
        self.room_celsius + self.sensor
    }

    /// Gives the temperature of the heated body, °C.
    #[inline]
    pub fn block_celsius(&self) -> f64 {
        self.room_celsius + self.block
    }

    /// Gives the room's temperature, °C.
    pub fn room_celsius(&self) -> f64 {
        self.room_celsius
    }

    /// Gives the power that went into the element in the last period, W.
    pub fn power_watts(&self) -> f64 {
        self.element.power_watts()
    }

    /// Gives the present loss to the room, fan and filament included, W/K.
    pub fn loss_watts_per_kelvin(&self) -> f64 {
        self.element.loss_watts_per_kelvin()
    }

    /// Changes the room's temperature; body and sensor keep theirs. A value that is not a
    /// temperature changes nothing.
    pub fn set_room_celsius(&mut self, room_celsius: f64) {
        if CELSIUS.check(room_celsius).is_ok() {
            let fall = self.room_celsius - room_celsius;
            self.block += fall;
            self.sensor += fall;
            self.room_celsius = room_celsius;
        }
    }

    /// Sets the part fan, from 0 (still) to 1 (full); other values are held to these.
    pub fn set_fan_fraction(&mut self, fraction: f64) {
        if self.element.set_fan_fraction(fraction) {
            self.solve();
        }
    }

    /// Sets what moving filament takes, in W per K above the room; see
    /// [`melting_watts_per_kelvin`](super::melting_watts_per_kelvin).
    pub fn set_flow_watts_per_kelvin(&mut self, watts_per_kelvin: f64) {
        if self.element.set_flow_watts_per_kelvin(watts_per_kelvin) {
            self.solve();
        }
    }

    /// Sets how much of the power asked for the element gives: 1 sound, 0 broken.
    pub fn set_power_factor(&mut self, factor: f64) {
        self.element.set_power_factor(factor);
    }

    pub(super) fn element(&self) -> &Element {
        &self.element
    }

    /// Works the step out anew after a change of the loss.
    fn solve(&mut self) {
        let spec = &self.element.spec;
        self.coefficients = Coefficients::new(
            spec.heat_capacity_joules_per_kelvin,
            self.element.loss_watts_per_kelvin(),
            spec.sensor_lag_s,
            self.period_s,
        );
    }
}

#[cfg(test)]
mod tests;
