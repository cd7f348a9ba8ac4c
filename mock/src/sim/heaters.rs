//! All heaters of the printer: the bodies that get warm and the host's side of each.

use indexmap::IndexMap;

use super::heater::Heater;
use super::plant::{HeaterSpec, ThermalNetwork, melting_watts_per_kelvin};
use super::{HeaterKind, HeaterTruth, Tick};
use crate::scenario::{MaterialPlan, RoomPlan, Scenario};

/// Is every heater together.
#[derive(Debug, Clone)]
pub(super) struct Heaters {
    network: ThermalNetwork,
    units: Vec<Heater>,
    /// What the controllers ask for in the present period; kept to spare an allocation a tick.
    asked_watts: Vec<f64>,
    room: RoomPlan,
    material: MaterialPlan,
}

/// How often the room's slow swing is followed, in ticks: once a minute.
const ROOM_EVERY: u64 = 600;

impl Heaters {
    pub(super) fn new(scenario: &Scenario, seed: u64) -> Self {
        let specs: Vec<HeaterSpec> = scenario.heaters.values().map(|plan| plan.spec).collect();
        let room_celsius = room_celsius(&scenario.room, Tick(0));
        let network =
            ThermalNetwork::new(Tick::PERIOD_S, room_celsius, &specs, &scenario.couplings);
        Self {
            network: super::heater::checked(network),
            units: (0..)
                .zip(scenario.heaters.values())
                .map(|(index, plan)| Heater::new(plan, seed, index))
                .collect(),
            asked_watts: vec![0.0; specs.len()],
            room: scenario.room,
            material: scenario.material,
        }
    }

    /// Lets one period pass, up to a tick. Gives the `printer-state-reasons` keyword if some
    /// protection trips.
    pub(super) fn step(&mut self, tick: Tick) -> Option<&'static str> {
        for (heater, watts) in self.units.iter_mut().zip(&mut self.asked_watts) {
            *watts = heater.ask_watts();
        }
        self.network.step_watts(&self.asked_watts);
        if self.room.swing_celsius > 0.0 && tick.0.is_multiple_of(ROOM_EVERY) {
            self.network
                .set_room_celsius(room_celsius(&self.room, tick));
        }
        let mut trip = None;
        for (index, heater) in self.units.iter_mut().enumerate() {
            let sensor_celsius = self.network.sensor_celsius(index);
            trip = trip.or(heater.see(sensor_celsius, self.asked_watts[index], tick));
        }
        trip
    }

    /// Tells how many periods from a tick on may be passed with [`Self::run`].
    pub(super) fn quiet_periods(&self, tick: Tick) -> u64 {
        if !self.network.all_alone() {
            return 0;
        }
        if self.room.swing_celsius > 0.0 {
            // The period in which the room changes is stepped.
            ROOM_EVERY - 1 - tick.0 % ROOM_EVERY
        } else {
            u64::MAX
        }
    }

    /// Lets up to so many periods pass from a tick on: the same as as many steps, each heater by
    /// itself from one look of the protection to the next. Gives how many have passed, and the
    /// keyword if some protection tripped in the last of them.
    pub(super) fn run(&mut self, from: Tick, periods: u64) -> (u64, Option<&'static str>) {
        let (mut now, until) = (from, Tick(from.0 + periods));
        let mut trip = None;
        while now < until && trip.is_none() {
            let part = Heater::periods_to_next_look(now).min(until.0 - now.0);
            for (index, heater) in self.units.iter_mut().enumerate() {
                let watts = heater.run(&mut self.network, index, now, part);
                self.asked_watts[index] = watts;
                trip = trip.or(heater.look_if_due(watts, Tick(now.0 + part)));
            }
            now = Tick(now.0 + part);
        }
        (now.0 - from.0, trip)
    }

    pub(super) fn unit(&mut self, index: usize) -> &mut Heater {
        &mut self.units[index]
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = &Heater> {
        self.units.iter()
    }

    pub(super) fn reading_celsius(&self, index: usize) -> f64 {
        self.units[index].reading_celsius()
    }

    pub(super) fn all_hot_enough(&self) -> bool {
        self.units.iter().all(Heater::is_hot_enough)
    }

    /// Sets the target of the first heater of a kind, as a part program does; it names no other.
    pub(super) fn set_target_of(&mut self, kind: HeaterKind, celsius: f64, tick: Tick) {
        if let Some(heater) = self.units.iter_mut().find(|heater| heater.kind() == kind) {
            let celsius = celsius.clamp(0.0, heater.max_celsius());
            if (celsius - heater.target_celsius()).abs() > f64::EPSILON {
                heater.set_target(celsius, tick);
            }
        }
    }

    /// Tells whether the first heater of a kind has reached its target; a printer without one has
    /// nothing to wait for.
    pub(super) fn is_hot_enough(&self, kind: HeaterKind) -> bool {
        let heater = self.units.iter().find(|heater| heater.kind() == kind);
        heater.is_none_or(Heater::is_hot_enough)
    }

    pub(super) fn switch_off(&mut self, tick: Tick) {
        for heater in &mut self.units {
            heater.set_target(0.0, tick);
        }
        self.set_fan_fraction(0.0);
        self.set_flow_mm3_per_s(0.0);
    }

    pub(super) fn reset_protection(&mut self) {
        for heater in &mut self.units {
            heater.reset_protection();
        }
    }

    pub(super) fn set_power_factor(&mut self, index: usize, factor: f64) {
        self.network.set_power_factor(index, factor);
    }

    /// Sets the part fan, which blows at whatever has a loss by fan.
    pub(super) fn set_fan_fraction(&mut self, fraction: f64) {
        for index in 0..self.units.len() {
            self.network.set_fan_fraction(index, fraction);
        }
    }

    /// Sets the flow of filament, which takes heat from the extruders.
    pub(super) fn set_flow_mm3_per_s(&mut self, flow_mm3_per_s: f64) {
        let watts_per_kelvin = melting_watts_per_kelvin(
            flow_mm3_per_s,
            self.material.density_g_per_mm3,
            self.material.specific_heat_joules_per_g_kelvin,
        );
        for (index, heater) in self.units.iter().enumerate() {
            if heater.kind() == HeaterKind::Extruder {
                self.network
                    .set_flow_watts_per_kelvin(index, watts_per_kelvin);
            }
        }
    }

    pub(super) fn truths(&self, scenario: &Scenario, tick: Tick) -> IndexMap<String, HeaterTruth> {
        let truth = |(index, (name, heater)): (usize, (&String, &Heater))| {
            let body_celsius = self.network.block_celsius(index);
            let power_watts = self.network.power_watts(index);
            (name.clone(), heater.truth(body_celsius, power_watts, tick))
        };
        scenario
            .heaters
            .keys()
            .zip(&self.units)
            .enumerate()
            .map(truth)
            .collect()
    }
}

/// Gives the room's temperature at a tick.
pub(super) fn room_celsius(room: &RoomPlan, tick: Tick) -> f64 {
    const DAY_S: f64 = 86_400.0;
    let since_warmest_s = tick.start().as_seconds() - room.warmest_at_s;
    let angle = std::f64::consts::TAU * since_warmest_s / DAY_S;
    room.celsius + room.swing_celsius * angle.cos()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_room_is_warmest_when_it_says_and_coldest_half_a_day_later() {
        let room = RoomPlan {
            celsius: 20.0,
            swing_celsius: 3.0,
            warmest_at_s: 3600.0,
        };
        let at_hour = |hour: u64| room_celsius(&room, Tick(hour * 36_000));
        assert!((at_hour(1) - 23.0).abs() < 1e-9);
        assert!((at_hour(13) - 17.0).abs() < 1e-9);
        assert!((at_hour(7) - 20.0).abs() < 1e-9);
    }
}
