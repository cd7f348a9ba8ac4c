//! One heater as the host knows it: target, control, sensor and protection together.
//!
//! The body that gets warm is the [`plant`](super::plant)'s; this is what the host does about it.

use std::time::Duration;

use super::control::{Controller, OnOff, Pid, PidSettings};
use super::protection::{FallenAway, HeatingTooSlow, Observation, Protection, Rules};
use super::sensor::{Element, Reading, Reporting, SensorChain, SensorSetup};
use super::{HeaterKind, HeaterTruth, Tick};
use crate::scenario::{ControlPlan, HeaterPlan, ProtectionPlan};

/// Is a heater's host side.
#[derive(Debug, Clone)]
pub(super) struct Heater {
    kind: HeaterKind,
    max_watts: f64,
    controller: Controller,
    sensor: SensorChain,
    protection: Protection,
    target_celsius: f64,
    reading_celsius: f64,
    /// The last tick at which the reading was below the window round the target.
    too_cold_at: Tick,
    reached: bool,
    hot_to_touch: bool,
}

/// A target counts as reached from so little below it on (1 to 3 K: common practice).
const REACHED_BELOW_KELVIN: f64 = 2.0;
/// The reading must have stayed there for this long (1 to 10 s: common practice).
const REACHED_FOR: Duration = Duration::from_secs(3);

/// Above this a part that cools down is reported as still hot: the only temperature safe to leave a
/// hand on (ISO 13732-1, metal, 8 h and longer; from memory, see the cautions in README.md).
const COOL_CELSIUS: f64 = 43.0;
/// Keeps the report from flickering with the sensor's noise.
const COOL_HYSTERESIS_KELVIN: f64 = 1.0;

impl Heater {
    /// Builds the host side of one heater of a checked scenario, at the room's temperature.
    pub(super) fn new(plan: &HeaterPlan, room_celsius: f64, seed: u64, index: u32) -> Self {
        let setup = SensorSetup {
            element: Element::Ideal(Reporting::default()),
            noise_sd_kelvin: plan.noise_celsius,
            reading_period: Tick::PERIOD,
        };
        let sensor = checked(SensorChain::new(setup, seed, index));
        let reading_celsius = celsius(sensor.read(room_celsius, 0));
        Self {
            kind: plan.kind,
            max_watts: plan.power_watts,
            controller: controller(&plan.control),
            sensor,
            protection: checked(Protection::new(plan.kind, rules(plan))),
            target_celsius: 0.0,
            reading_celsius,
            too_cold_at: Tick(0),
            reached: false,
            hot_to_touch: false,
        }
    }

    pub(super) fn kind(&self) -> HeaterKind {
        self.kind
    }

    pub(super) fn target_celsius(&self) -> f64 {
        self.target_celsius
    }

    /// Asks the controller for the power of the coming period, W.
    pub(super) fn ask_watts(&mut self) -> f64 {
        let target = self.target();
        self.controller
            .output_watts(target, self.reading_celsius, self.max_watts)
    }

    /// Takes the reading of a tick. Gives the `printer-state-reasons` keyword if protection trips.
    pub(super) fn see(
        &mut self,
        sensor_celsius: f64,
        power_watts: f64,
        tick: Tick,
    ) -> Option<&'static str> {
        let reading = self.sensor.read(sensor_celsius, tick.0);
        self.reading_celsius = celsius(reading);
        if self.is_too_cold() {
            self.too_cold_at = tick;
        } else if tick >= Tick(self.too_cold_at.0 + Tick::at_or_after(REACHED_FOR).0) {
            self.reached = true;
        }
        let cool_below = COOL_CELSIUS
            - if self.hot_to_touch {
                COOL_HYSTERESIS_KELVIN
            } else {
                0.0
            };
        self.hot_to_touch = self.reading_celsius > cool_below;
        if self.protection.tripped().is_some() {
            // It is known already; what follows from it was done when it tripped.
            return None;
        }
        let observation = Observation {
            at: tick.start().since_start(),
            reading,
            target_celsius: self.target(),
            power_fraction: if self.max_watts > 0.0 {
                power_watts / self.max_watts
            } else {
                0.0
            },
        };
        self.protection
            .observe(&observation)
            .map(|trip| trip.state_reason())
    }

    /// Sets the target at a tick; 0 switches the heater off.
    pub(super) fn set_target(&mut self, celsius: f64, tick: Tick) {
        self.target_celsius = celsius;
        self.too_cold_at = tick;
        // Nobody waits for a part to cool down to its target.
        self.reached = !self.is_too_cold();
    }

    fn is_too_cold(&self) -> bool {
        self.reading_celsius < self.target_celsius - REACHED_BELOW_KELVIN
    }

    /// Tells whether nothing has to be waited for: the target was reached, or there is none.
    pub(super) fn is_hot_enough(&self) -> bool {
        self.target_celsius <= 0.0 || self.reached
    }

    /// Tells whether it is off and still too hot to leave a hand on.
    pub(super) fn cools_down(&self) -> bool {
        self.target_celsius <= 0.0 && self.hot_to_touch
    }

    /// Forgets a trip, as a person does who has put things right.
    pub(super) fn reset_protection(&mut self) {
        self.protection.reset();
    }

    /// Gives what is true of the heater, with what only the plant knows.
    pub(super) fn truth(&self, true_celsius: f64, power_watts: f64) -> HeaterTruth {
        HeaterTruth {
            kind: self.kind,
            actual_celsius: self.reading_celsius,
            true_celsius,
            target_celsius: self.target_celsius,
            power_watts,
            on: self.target_celsius > 0.0,
        }
    }

    fn target(&self) -> Option<f64> {
        (self.target_celsius > 0.0).then_some(self.target_celsius)
    }
}

/// Takes the number out of a reading. The host's rails are numbers here, so there always is one.
fn celsius(reading: Reading) -> f64 {
    reading.celsius().unwrap_or(f64::NAN)
}

fn controller(plan: &ControlPlan) -> Controller {
    match *plan {
        ControlPlan::OnOff { hysteresis_celsius } => {
            Controller::OnOff(checked(OnOff::new(hysteresis_celsius)))
        }
        ControlPlan::Pid {
            gain_watts_per_kelvin,
            integral_time_s,
            derivative_time_s,
        } => {
            let settings = PidSettings {
                gain_watts_per_kelvin,
                integral_time_s,
                derivative_time_s,
            };
            Controller::Pid(checked(Pid::new(settings, Tick::PERIOD_S)))
        }
    }
}

/// Takes the usual rules of the part and the bounds that the scenario sets.
fn rules(plan: &HeaterPlan) -> Rules {
    let usual = Rules::usual(plan.kind);
    let ProtectionPlan {
        rise_celsius,
        rise_within_s,
        fall_celsius,
        fall_for_s,
        above_celsius,
    } = plan.protection;
    Rules {
        heating_too_slow: usual.heating_too_slow.map(|rule| HeatingTooSlow {
            rise_kelvin: rise_celsius,
            period: Duration::from_secs_f64(rise_within_s),
            ..rule
        }),
        fallen_away: usual.fallen_away.map(|rule| FallenAway {
            below_target_kelvin: fall_celsius,
            period: Duration::from_secs_f64(fall_for_s),
            ..rule
        }),
        above_maximum: usual.above_maximum.map(|mut rule| {
            rule.maximum_celsius = plan.max_celsius + above_celsius;
            rule
        }),
        ..usual
    }
}

/// Takes the value out of a constructor's result.
///
/// # Panics
/// When the scenario's own bounds let a number through that a part does not take: our own defect,
/// and a property test looks for it.
fn checked<T, E: std::fmt::Display>(result: Result<T, E>) -> T {
    match result {
        Ok(value) => value,
        Err(error) => panic!("a checked scenario holds a number the simulation refuses: {error}"),
    }
}
