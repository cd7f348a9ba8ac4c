//! One heater as the host knows it: target, control, sensor and protection together.
//!
//! The body that gets warm is the [`plant`](super::plant)'s; this is what the host does about it.

use super::control::{Controller, OnOff, Pid};
use super::plant::ThermalNetwork;
use super::protection::{Observation, Protection, Span};
use super::sensor::{Fault, FaultKind, Reading, SensorChain, SensorError};
use super::touch::{Contact, safe_to_touch};
use super::{HeaterKind, HeaterTruth, Tick};
use crate::scenario::{ControlPlan, HeaterPlan};

/// Is a heater's host side.
#[derive(Debug, Clone)]
pub(super) struct Heater {
    kind: HeaterKind,
    max_watts: f64,
    max_celsius: f64,
    controller: Controller,
    sensor: SensorChain,
    protection: Protection,
    target_celsius: f64,
    /// What the host controls by: the sensor's reading without its noise, as after a host's own
    /// filter. What it shows carries the noise.
    reading: Reading,
    /// The same as a number; not a number while the host has none.
    reading_celsius: f64,
    /// What the sensor had when it was last read, C.
    sampled_celsius: f64,
    /// Time from one reading to the next, ticks.
    read_every: u64,
    /// The last tick at which the reading was below the window round the target.
    too_cold_at: Tick,
    reached: bool,
    hot_to_touch: bool,
    /// Readings that the host's look makes nothing of, and the last of them.
    quiet: Span,
    quiet_celsius: f64,
}

/// A target counts as reached from so little below it on (1 to 3 K: common practice).
const REACHED_BELOW_KELVIN: f64 = 2.0;
/// The reading must have stayed there for this long (1 to 10 s: common practice).
const REACHED_FOR_TICKS: u64 = 30;
/// The host's protection looks once a second, in ticks ("at once to 1 s": common practice).
const PROTECTION_EVERY: u64 = 10;

/// Keeps the report of a hot part from flickering.
const COOL_HYSTERESIS_KELVIN: f64 = 1.0;

impl Heater {
    /// Builds the host side of one heater of a checked scenario.
    pub(super) fn new(plan: &HeaterPlan, seed: u64, index: u32) -> Self {
        let sensor = checked(SensorChain::new(plan.sensor.clone(), seed, index));
        let reading = sensor.read_filtered(plan.spec.start_celsius, 0);
        Self {
            kind: plan.kind,
            max_watts: plan.spec.max_watts,
            max_celsius: plan.max_celsius,
            controller: controller(plan.control),
            sensor,
            protection: checked(Protection::new(plan.kind, plan.protection)),
            target_celsius: 0.0,
            reading,
            reading_celsius: reading.celsius().unwrap_or(f64::NAN),
            sampled_celsius: plan.spec.start_celsius,
            read_every: Tick::at_or_after(plan.sensor.reading_period).0.max(1),
            too_cold_at: Tick(0),
            reached: false,
            hot_to_touch: false,
            quiet: Span::NONE,
            quiet_celsius: f64::NAN,
        }
    }

    pub(super) fn kind(&self) -> HeaterKind {
        self.kind
    }

    pub(super) fn max_celsius(&self) -> f64 {
        self.max_celsius
    }

    pub(super) fn target_celsius(&self) -> f64 {
        self.target_celsius
    }

    pub(super) fn reading_celsius(&self) -> f64 {
        self.reading_celsius
    }

    /// Asks the controller for the power of the coming period, W.
    #[inline]
    pub(super) fn ask_watts(&mut self) -> f64 {
        let target = self.target();
        self.controller
            .output_watts(target, self.reading_celsius, self.max_watts)
    }

    /// Takes the reading of a tick. Gives the `printer-state-reasons` keyword if protection trips.
    #[inline]
    pub(super) fn see(
        &mut self,
        sensor_celsius: f64,
        power_watts: f64,
        tick: Tick,
    ) -> Option<&'static str> {
        self.read(sensor_celsius, tick);
        self.look_if_due(power_watts, tick)
    }

    /// Lets several periods pass for a heater that no other warms: the same as as many rounds of
    /// [`Self::ask_watts`], the plant's step and [`Self::see`], but for the protection's look, which
    /// is due at most after the last of them. Gives the power last asked for, W.
    #[inline]
    pub(super) fn run(
        &mut self,
        network: &mut ThermalNetwork,
        index: usize,
        from: Tick,
        periods: u64,
    ) -> f64 {
        if self.read_every == 1 && self.sensor.reads_the_truth() && self.is_hot_enough() {
            let watts = self.run_plainly(network, index, periods);
            self.read(network.sensor_celsius(index), Tick(from.0 + periods));
            return watts;
        }
        let mut watts = 0.0;
        network.run_alone(index, periods, |sensor_celsius, passed| {
            // The first period goes by the reading that was taken already.
            if passed > 0 {
                self.read(sensor_celsius, Tick(from.0 + passed));
            }
            watts = self.ask_watts();
            watts
        });
        self.read(network.sensor_celsius(index), Tick(from.0 + periods));
        watts
    }

    /// Lets several periods pass for a heater whose sensor reads the truth and which waits for
    /// nothing, as most do for most of the time: control and plant alone, in the processor's
    /// registers. Gives the power last asked for, W.
    #[inline]
    fn run_plainly(&mut self, network: &mut ThermalNetwork, index: usize, periods: u64) -> f64 {
        let (target, max_watts) = (self.target(), self.max_watts);
        let mut watts = 0.0;
        match &mut self.controller {
            Controller::OnOff(on_off) => {
                let mut local = on_off.clone();
                network.run_alone(index, periods, |celsius, _| {
                    watts = local.output_watts(target, celsius, max_watts);
                    watts
                });
                *on_off = local;
            }
            Controller::Pid(pid) => {
                let mut local = pid.clone();
                network.run_alone(index, periods, |celsius, _| {
                    watts = local.output_watts(target, celsius, max_watts);
                    watts
                });
                *pid = local;
            }
        }
        watts
    }

    /// Tells after how many periods from a tick on the protection looks next.
    pub(super) fn periods_to_next_look(tick: Tick) -> u64 {
        PROTECTION_EVERY - tick.0 % PROTECTION_EVERY
    }

    #[inline]
    fn read(&mut self, sensor_celsius: f64, tick: Tick) {
        if tick.0.is_multiple_of(self.read_every) {
            self.sampled_celsius = sensor_celsius;
            self.reading = self
                .sensor
                .read_filtered(sensor_celsius, self.reading_index(tick));
            self.reading_celsius = self.reading.celsius().unwrap_or(f64::NAN);
        }
        if !self.reached {
            if self.is_too_cold() {
                self.too_cold_at = tick;
            } else if tick.0 >= self.too_cold_at.0 + REACHED_FOR_TICKS {
                self.reached = true;
            }
        }
    }

    /// Lets the protection look at a tick, if it is one of its own.
    pub(super) fn look_if_due(&mut self, power_watts: f64, tick: Tick) -> Option<&'static str> {
        if tick.0.is_multiple_of(PROTECTION_EVERY) {
            self.look(power_watts, tick)
        } else {
            None
        }
    }

    #[inline]
    fn look(&mut self, power_watts: f64, tick: Tick) -> Option<&'static str> {
        if self.quiet.contains(self.reading_celsius) {
            self.quiet_celsius = self.reading_celsius;
            return None;
        }
        self.look_closely(power_watts, tick)
    }

    #[inline(never)]
    fn look_closely(&mut self, power_watts: f64, tick: Tick) -> Option<&'static str> {
        self.stir();
        let margin = if self.hot_to_touch {
            COOL_HYSTERESIS_KELVIN
        } else {
            0.0
        };
        self.hot_to_touch = !safe_to_touch(self.reading_celsius + margin, Contact::default());
        let mut trip = None;
        // One that holds is known already; what follows from it was done when it tripped.
        if self.protection.tripped().is_none() {
            let observation = Observation {
                at: tick.start().since_start(),
                reading: self.reading,
                target_celsius: self.target(),
                power_fraction: if self.max_watts > 0.0 {
                    power_watts / self.max_watts
                } else {
                    0.0
                },
            };
            trip = self.protection.observe(&observation);
        }
        self.quiet = self.protection.calm().and(self.same_touch());
        trip.map(|trip| trip.state_reason())
    }

    /// Gives the readings that leave a hot part hot and a cool one cool.
    fn same_touch(&self) -> Span {
        let threshold_celsius = Contact::default().burn_threshold_celsius();
        if self.hot_to_touch {
            Span::well_between(threshold_celsius, f64::INFINITY)
        } else {
            Span::well_between(f64::NEG_INFINITY, threshold_celsius)
        }
    }

    /// Makes the next look a close one.
    fn stir(&mut self) {
        if !self.quiet_celsius.is_nan() {
            self.protection.note_calm(self.quiet_celsius);
        }
        (self.quiet, self.quiet_celsius) = (Span::NONE, f64::NAN);
    }

    /// Sets the target at a tick; 0 switches the heater off.
    pub(super) fn set_target(&mut self, celsius: f64, tick: Tick) {
        self.target_celsius = celsius;
        self.too_cold_at = tick;
        // Nobody waits for a part to cool down to its target.
        self.reached = !self.is_too_cold();
        self.stir();
    }

    /// A reading that is no number counts as too cold: nothing is known to be reached.
    fn is_too_cold(&self) -> bool {
        self.reading_celsius.is_nan()
            || self.reading_celsius < self.target_celsius - REACHED_BELOW_KELVIN
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
        self.stir();
        self.protection.reset();
    }

    /// Lets the sensor go wrong from the coming reading on.
    pub(super) fn break_sensor(&mut self, kind: FaultKind, tick: Tick) {
        let fault: Result<Fault, SensorError> =
            Fault::new(kind, self.reading_index(tick) + 1, self.reading);
        self.sensor.add_fault(checked(fault));
    }

    /// Ends every fault of the sensor with the coming reading.
    pub(super) fn mend_sensor(&mut self, tick: Tick) {
        self.sensor.mend(self.reading_index(tick) + 1);
    }

    /// Gives what is true of the heater, with what only the plant knows.
    pub(super) fn truth(&self, body_celsius: f64, power_watts: f64, tick: Tick) -> HeaterTruth {
        let shown = self
            .sensor
            .read(self.sampled_celsius, self.reading_index(tick));
        HeaterTruth {
            kind: self.kind,
            actual_celsius: shown.celsius(),
            true_celsius: body_celsius,
            target_celsius: self.target_celsius,
            power_watts,
            on: self.target_celsius > 0.0,
            safe_to_touch: safe_to_touch(body_celsius, Contact::default()),
        }
    }

    /// Counts the reading in force at a tick.
    fn reading_index(&self, tick: Tick) -> u64 {
        tick.0 / self.read_every
    }

    #[inline]
    fn target(&self) -> Option<f64> {
        (self.target_celsius > 0.0).then_some(self.target_celsius)
    }
}

fn controller(plan: ControlPlan) -> Controller {
    match plan {
        ControlPlan::OnOff { hysteresis_celsius } => {
            Controller::OnOff(checked(OnOff::new(hysteresis_celsius)))
        }
        ControlPlan::Pid(settings) => Controller::Pid(checked(Pid::new(settings, Tick::PERIOD_S))),
    }
}

/// Takes the value out of a constructor's result.
///
/// # Panics
/// When the scenario's own bounds let a number through that a part does not take: our own defect,
/// and a property test looks for it.
pub(super) fn checked<T, E: std::fmt::Display>(result: Result<T, E>) -> T {
    match result {
        Ok(value) => value,
        Err(error) => panic!("a checked scenario holds a number the simulation refuses: {error}"),
    }
}
