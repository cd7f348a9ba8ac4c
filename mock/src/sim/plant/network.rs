//! All heaters of one printer.

use super::coupled::CoupledGroup;
use super::element::Element;
use super::spec::{CELSIUS, PERIOD_S};
use super::{Coupling, FirstOrder, HeaterSpec, PlantError};

/// Says where a heater's state is kept.
#[derive(Debug, Clone, Copy)]
enum Place {
    Alone(usize),
    Member { group: usize, heater: usize },
}

/// Simulates any number of heaters, some of which may warm each other.
///
/// Heaters are named by their index in the list given to [`ThermalNetwork::new`]; every method panics
/// on an index that was not in it. Those without a coupling are stepped by [`FirstOrder`], so they
/// do not pay for the ones that have one.
#[derive(Debug, Clone)]
pub struct ThermalNetwork {
    places: Vec<Place>,
    max_watts: Vec<f64>,
    alone: Vec<(usize, FirstOrder)>,
    groups: Vec<(Vec<usize>, CoupledGroup)>,
    /// What every sensor has, kept in one place because it is asked for at every step.
    readings_celsius: Vec<f64>,
    room_celsius: f64,
}

impl ThermalNetwork {
    /// Builds the heaters and what joins them, to be stepped once per period.
    ///
    /// A coupling of 0 W/K is left out. Several couplings of one pair add up.
    ///
    /// # Errors
    /// - [`PlantError::OutOfRange`], [`PlantError::SensorLagTooShort`]: a number the model cannot
    ///   carry.
    /// - [`PlantError::NoSuchHeater`], [`PlantError::SelfCoupling`]: a coupling with a wrong end.
    pub fn new(
        period_s: f64,
        room_celsius: f64,
        heaters: &[HeaterSpec],
        couplings: &[Coupling],
    ) -> Result<Self, PlantError> {
        PERIOD_S.check(period_s)?;
        CELSIUS.check(room_celsius)?;
        for spec in heaters {
            spec.check()?;
        }
        for coupling in couplings {
            coupling.check(heaters.len())?;
        }
        let couplings: Vec<Coupling> = couplings
            .iter()
            .copied()
            .filter(|coupling| coupling.watts_per_kelvin > 0.0)
            .collect();
        let mut network = Self {
            places: vec![Place::Alone(0); heaters.len()],
            max_watts: heaters.iter().map(|spec| spec.max_watts).collect(),
            alone: Vec::new(),
            groups: Vec::new(),
            readings_celsius: heaters.iter().map(|spec| spec.start_celsius).collect(),
            room_celsius,
        };
        for members in components(heaters.len(), &couplings) {
            if let [only] = members[..] {
                network.places[only] = Place::Alone(network.alone.len());
                let heater = FirstOrder::new(heaters[only], period_s, room_celsius)?;
                network.alone.push((only, heater));
            } else {
                let specs: Vec<HeaterSpec> = members.iter().map(|index| heaters[*index]).collect();
                let inner = within(&members, &couplings);
                let group = CoupledGroup::new(&specs, inner, period_s, room_celsius);
                for (heater, index) in members.iter().enumerate() {
                    network.places[*index] = Place::Member {
                        group: network.groups.len(),
                        heater,
                    };
                }
                network.groups.push((members, group));
            }
        }
        Ok(network)
    }

    /// Gives the number of heaters.
    pub fn len(&self) -> usize {
        self.places.len()
    }

    /// Says whether there is no heater at all.
    pub fn is_empty(&self) -> bool {
        self.places.is_empty()
    }

    /// Advances by one period; one duty per heater, 0 to 1, held over the period.
    ///
    /// # Panics
    /// If there is not one duty per heater.
    pub fn step(&mut self, duties: &[f64]) {
        assert_eq!(duties.len(), self.places.len(), "one duty per heater");
        self.advance(|max_watts, heater| duties[heater] * max_watts[heater]);
    }

    /// Advances by one period; one power in W per heater, held over the period.
    ///
    /// Spares a caller that has watts the division by full power.
    ///
    /// # Panics
    /// If there is not one power per heater.
    #[inline]
    pub fn step_watts(&mut self, powers_watts: &[f64]) {
        assert_eq!(
            powers_watts.len(),
            self.places.len(),
            "one power per heater"
        );
        self.advance(|_, heater| powers_watts[heater]);
    }

    /// Says whether no heater warms another, so that each may be advanced by itself.
    pub fn all_alone(&self) -> bool {
        self.groups.is_empty()
    }

    /// Advances one heater that no other warms by several periods; `ask` gives the power in W for
    /// the coming period from what the sensor has, in °C, and the number of periods passed.
    ///
    /// Same as as many calls of [`Self::step_watts`], without the cost of looking at all heaters
    /// each time. Does nothing for a heater of a coupled group.
    #[inline]
    pub fn run_alone(&mut self, heater: usize, periods: u64, ask: impl FnMut(f64, u64) -> f64) {
        let Place::Alone(at) = self.places[heater] else {
            return;
        };
        let plant = &mut self.alone[at].1;
        let celsius = plant.run(periods, ask);
        self.readings_celsius[heater] = celsius;
    }

    /// Gives the temperature of a heater's sensor, °C.
    #[inline]
    pub fn sensor_celsius(&self, heater: usize) -> f64 {
        self.readings_celsius[heater]
    }

    /// Gives the temperature of a heater's body, °C.
    #[inline]
    pub fn block_celsius(&self, heater: usize) -> f64 {
        match self.places[heater] {
            Place::Alone(at) => self.alone[at].1.block_celsius(),
            Place::Member { group, heater } => self.groups[group].1.block_celsius(heater),
        }
    }

    /// Gives the power that went into a heater's element in the last period, W.
    pub fn power_watts(&self, heater: usize) -> f64 {
        self.element(heater).power_watts()
    }

    /// Gives a heater's full power, W.
    pub fn max_watts(&self, heater: usize) -> f64 {
        self.max_watts[heater]
    }

    /// Gives a heater's present loss to the room, fan and filament included, W/K.
    pub fn loss_watts_per_kelvin(&self, heater: usize) -> f64 {
        self.element(heater).loss_watts_per_kelvin()
    }

    /// Gives the room's temperature, °C.
    pub fn room_celsius(&self) -> f64 {
        self.room_celsius
    }

    /// Changes the room's temperature; bodies and sensors keep theirs. A value that is not a
    /// temperature changes nothing.
    pub fn set_room_celsius(&mut self, room_celsius: f64) {
        if CELSIUS.check(room_celsius).is_err() {
            return;
        }
        self.room_celsius = room_celsius;
        for (_, heater) in &mut self.alone {
            heater.set_room_celsius(room_celsius);
        }
        for (_, group) in &mut self.groups {
            group.set_room_celsius(room_celsius);
        }
    }

    /// Sets the part fan for one heater, from 0 (still) to 1 (full); other values are held to these.
    pub fn set_fan_fraction(&mut self, heater: usize, fraction: f64) {
        match self.places[heater] {
            Place::Alone(at) => self.alone[at].1.set_fan_fraction(fraction),
            Place::Member { group, heater } => {
                self.groups[group].1.set_fan_fraction(heater, fraction);
            }
        }
    }

    /// Sets what moving filament takes from one heater, in W per K above the room; see
    /// [`melting_watts_per_kelvin`](super::melting_watts_per_kelvin).
    pub fn set_flow_watts_per_kelvin(&mut self, heater: usize, watts_per_kelvin: f64) {
        match self.places[heater] {
            Place::Alone(at) => self.alone[at].1.set_flow_watts_per_kelvin(watts_per_kelvin),
            Place::Member { group, heater } => {
                let group = &mut self.groups[group].1;
                group.set_flow_watts_per_kelvin(heater, watts_per_kelvin);
            }
        }
    }

    /// Sets how much of the power asked for one heater's element gives: 1 sound, 0 broken.
    pub fn set_power_factor(&mut self, heater: usize, factor: f64) {
        match self.places[heater] {
            Place::Alone(at) => self.alone[at].1.set_power_factor(factor),
            Place::Member { group, heater } => {
                self.groups[group].1.set_power_factor(heater, factor);
            }
        }
    }

    /// Steps everything with a power per heater, made from the list of full powers and its index.
    #[inline]
    fn advance(&mut self, power_watts: impl Fn(&[f64], usize) -> f64) {
        for (index, heater) in &mut self.alone {
            self.readings_celsius[*index] = heater.step(power_watts(&self.max_watts, *index));
        }
        for (members, group) in &mut self.groups {
            for (heater, index) in members.iter().enumerate() {
                group.ask(heater, power_watts(&self.max_watts, *index));
            }
            group.step();
            for (heater, index) in members.iter().enumerate() {
                self.readings_celsius[*index] = group.sensor_celsius(heater);
            }
        }
    }

    fn element(&self, heater: usize) -> &Element {
        match self.places[heater] {
            Place::Alone(at) => self.alone[at].1.element(),
            Place::Member { group, heater } => self.groups[group].1.element(heater),
        }
    }
}

/// Sorts heaters into sets that no coupling leaves; each set and the list of sets in rising order.
fn components(count: usize, couplings: &[Coupling]) -> Vec<Vec<usize>> {
    let mut first_of: Vec<usize> = (0..count).collect();
    for coupling in couplings {
        let (a, b) = (first_of[coupling.one], first_of[coupling.other]);
        for first in &mut first_of {
            if *first == a.max(b) {
                *first = a.min(b);
            }
        }
    }
    (0..count)
        .map(|first| {
            (0..count)
                .filter(|heater| first_of[*heater] == first)
                .collect()
        })
        .filter(|members: &Vec<usize>| !members.is_empty())
        .collect()
}

/// Gives the couplings inside a set, counted within it. Those of a set have both ends in it.
fn within(members: &[usize], couplings: &[Coupling]) -> Vec<Coupling> {
    let at = |end: usize| members.iter().position(|index| *index == end);
    couplings
        .iter()
        .filter_map(|coupling| {
            Some(Coupling {
                one: at(coupling.one)?,
                other: at(coupling.other)?,
                watts_per_kelvin: coupling.watts_per_kelvin,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests;
