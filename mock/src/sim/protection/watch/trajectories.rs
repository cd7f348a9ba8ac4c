//! Whole trajectories of the example nozzle and bed, healthy and faulty, under the usual rules.

use std::time::Duration;

use super::super::super::sensor::{
    Curve, Divider, Element, Fault, FaultKind, Quantum, Rails, Reading, Reporting, Rounding,
    SensorChain, SensorSetup, Wired, ntc::NtcTable,
};
use super::super::AboveTarget;
use super::*;

const PERIOD: Duration = Duration::from_millis(100);
const ROOM_CELSIUS: f64 = 25.0;

/// A first-order plant with dead time under proportional control, just enough to have a trajectory.
///
/// Source: Incropera ch. 5, lumped capacitance: T moves to Ta + P/G by 1 - e^(-dt G/C) in a step of constant power.
struct Plant {
    capacity_j_per_k: f64,
    loss_w_per_k: f64,
    full_watts: f64,
    celsius: f64,
    /// Power asked for, oldest first: dead time.
    underway: std::collections::VecDeque<f64>,
}

impl Plant {
    /// Nozzle of 20 J/K, 0.12 W/K, 40 W, dead time 4 s.
    fn nozzle(celsius: f64) -> Self {
        Self::new(20.0, 0.12, 40.0, celsius)
    }

    /// Bed of 700 J/K, 1.6 W/K, 180 W, dead time 4 s.
    fn bed(celsius: f64) -> Self {
        Self::new(700.0, 1.6, 180.0, celsius)
    }

    fn new(capacity_j_per_k: f64, loss_w_per_k: f64, full_watts: f64, celsius: f64) -> Self {
        let underway = std::iter::repeat_n(0.0, 40).collect();
        Self {
            capacity_j_per_k,
            loss_w_per_k,
            full_watts,
            celsius,
            underway,
        }
    }

    fn step(&mut self, power_fraction: f64) {
        self.underway.push_back(power_fraction);
        let arriving = self.underway.pop_front().unwrap();
        let end_celsius = ROOM_CELSIUS + arriving * self.full_watts / self.loss_w_per_k;
        let decay = (-PERIOD.as_secs_f64() * self.loss_w_per_k / self.capacity_j_per_k).exp();
        self.celsius = end_celsius + (self.celsius - end_celsius) * decay;
    }

    /// Power that holds the target, plus a share of the distance; a tenth per kelvin leaves no ripple.
    fn controlled(&self, reading: Reading, target_celsius: Option<f64>) -> f64 {
        let (Some(target), Some(celsius)) = (target_celsius, reading.celsius()) else {
            return 0.0;
        };
        let hold = (target - ROOM_CELSIUS) * self.loss_w_per_k / self.full_watts;
        (hold + 0.1 * (target - celsius)).clamp(0.0, 1.0)
    }
}

/// Noise 0.1 K, thermistor on 12 bits, rounded to a sixteenth; a host that reports the rails as numbers.
fn sensor(seed: u64, rails: Rails) -> SensorChain {
    let quantum = Quantum::new(0.0625, Rounding::Nearest).unwrap();
    let reporting = Reporting::new(-40.0, 400.0, rails, Some(quantum)).unwrap();
    let divider = Divider::new(4700.0, 12, 1.0).unwrap();
    let wired = Wired::known(
        Curve::NtcTable(NtcTable::glass_bead_3950()),
        divider,
        reporting,
    );
    let setup = SensorSetup {
        element: Element::Wired(wired),
        noise_sd_kelvin: 0.1,
        reading_period: PERIOD,
    };
    SensorChain::new(setup, seed, 0).unwrap()
}

/// A run: plant, sensor, protection, and the readings so far.
struct Run {
    plant: Plant,
    sensor: SensorChain,
    protection: Protection,
    /// Heater power is this instead of what the controller asks for.
    stuck_at: Option<f64>,
    /// All or nothing, switching 1 K from the target on either side.
    on_off: bool,
    power_fraction: f64,
    index: u64,
    last: Reading,
}

impl Run {
    fn new(part: HeaterKind, rails: Rails, seed: u64) -> Self {
        Self::with_rules(part, Rules::usual(part), rails, seed)
    }

    fn with_rules(part: HeaterKind, rules: Rules, rails: Rails, seed: u64) -> Self {
        let plant = if part == HeaterKind::Platform {
            Plant::bed(ROOM_CELSIUS)
        } else {
            Plant::nozzle(ROOM_CELSIUS)
        };
        Self {
            plant,
            sensor: sensor(seed, rails),
            protection: Protection::new(part, rules).unwrap(),
            stuck_at: None,
            on_off: false,
            power_fraction: 0.0,
            index: 0,
            last: Reading::Celsius(ROOM_CELSIUS),
        }
    }

    fn at(&self) -> Duration {
        PERIOD * self.index as u32
    }

    /// Goes on for a time or to the first trip.
    fn go_on(&mut self, target_celsius: Option<f64>, for_s: u64) -> Option<Trip> {
        for _ in 0..for_s * 10 {
            self.last = self.sensor.read(self.plant.celsius, self.index);
            let power_fraction = self.power_asked(target_celsius);
            self.power_fraction = power_fraction;
            let observation = Observation {
                at: self.at(),
                reading: self.last,
                target_celsius,
                power_fraction,
            };
            if let Some(trip) = self.protection.observe(&observation) {
                return Some(trip);
            }
            self.plant.step(self.stuck_at.unwrap_or(power_fraction));
            self.index += 1;
        }
        None
    }

    fn power_asked(&self, target_celsius: Option<f64>) -> f64 {
        match (self.on_off, self.last.celsius(), target_celsius) {
            (true, Some(celsius), Some(target)) if celsius < target - 1.0 => 1.0,
            (true, Some(celsius), Some(target)) if celsius > target + 1.0 => 0.0,
            (true, Some(_), Some(_)) => self.power_fraction,
            _ => self.plant.controlled(self.last, target_celsius),
        }
    }

    fn strike(&mut self, kind: FaultKind) -> f64 {
        self.sensor
            .add_fault(Fault::new(kind, self.index, self.last).unwrap());
        self.at().as_secs_f64()
    }
}

fn assert_tripped(
    trip: Option<Trip>,
    rule: Rule,
    reason: &str,
    at_s: std::ops::RangeInclusive<f64>,
) {
    let trip = trip.expect("a trip");
    assert_eq!((trip.rule, trip.state_reason()), (rule, reason), "{trip}");
    assert!(
        at_s.contains(&trip.at.as_secs_f64()),
        "{trip}, expected within {at_s:?}"
    );
}

#[test]
fn a_healthy_nozzle_never_trips_from_cold_through_three_targets_to_cold() {
    for seed in 0..5 {
        let mut run = Run::new(HeaterKind::Extruder, Rails::Number, seed);
        for target in [
            None,
            Some(210.0),
            Some(250.0),
            Some(170.0),
            None,
            Some(210.0),
        ] {
            assert_eq!(run.go_on(target, 900), None);
        }
        assert!(
            (run.plant.celsius - 210.0).abs() < 1.0,
            "{}",
            run.plant.celsius
        );
    }
}

// Source: on-off control of the example nozzle with dead time swings over 204.64..214.49 without fault.
#[test]
fn a_healthy_nozzle_under_on_off_control_never_trips() {
    let mut run = Run::new(HeaterKind::Extruder, Rails::Number, 1);
    run.on_off = true;
    assert_eq!(run.go_on(Some(210.0), 1800), None);
}

#[test]
fn a_healthy_bed_never_trips() {
    let mut run = Run::new(HeaterKind::Platform, Rails::Number, 1);
    for target in [Some(60.0), Some(110.0), Some(60.0), None] {
        assert_eq!(run.go_on(target, 1800), None);
    }
}

// No power: the reading stays within noise of 25, and the period of 20 s runs from the first reading. Noise of 0.1
// does not make 2 K.
#[test]
fn a_dead_heater_trips_when_the_first_period_is_over() {
    let mut run = Run::new(HeaterKind::Extruder, Rails::Number, 1);
    run.stuck_at = Some(0.0);
    let trip = run.go_on(Some(210.0), 100);
    assert_tripped(trip, Rule::HeatingTooSlow, "extruder-failure", 20.0..=20.0);
}

// Cooling from 210 by 22.2 W in 20 J/K: below 200 after 4 s of dead time and 166.7 ln(185/175) = 9.26 s; the
// controller is at full power, but the heater gives nothing. Heating too slow would need 5 K, that is 4.5 s, and
// 20 s, which is earlier than 9.26 + 30: whichever rule is looked at alone has its own time.
#[test]
fn a_heater_that_dies_at_target_trips_by_either_rule_in_its_time() {
    let usual = Rules::usual(HeaterKind::Extruder);
    let alone = Rules {
        fallen_away: usual.fallen_away,
        ..Rules::default()
    };
    let mut run = Run::with_rules(HeaterKind::Extruder, alone, Rails::Number, 1);
    assert_eq!(run.go_on(Some(210.0), 600), None);
    run.stuck_at = Some(0.0);
    let trip = run.go_on(Some(210.0), 100);
    // Noise and the offset of proportional control move the crossing by some tenths of a second.
    assert_tripped(
        trip,
        Rule::FallenAway,
        "extruder-temperature-low",
        642.7..=643.9,
    );

    let mut run = Run::new(HeaterKind::Extruder, Rails::Number, 1);
    assert_eq!(run.go_on(Some(210.0), 600), None);
    run.stuck_at = Some(0.0);
    let trip = run.go_on(Some(210.0), 100);
    // Below 205.00 and full power (7.3 K missing: 0.544 + 0.73 > 0.95 from 4.1 K on): 4 + 166.7 ln(185/180) + 20.
    assert_tripped(
        trip,
        Rule::HeatingTooSlow,
        "extruder-failure",
        628.0..=629.1,
    );
}

// Heater stuck on from 210 with 40 W: 235 after 4 s of dead time and 166.7 ln(148.33/123.33) = 30.8 s.
#[test]
fn a_heater_stuck_on_trips_25_kelvin_above_target() {
    let mut run = Run::new(HeaterKind::Extruder, Rails::Number, 1);
    assert_eq!(run.go_on(Some(210.0), 600), None);
    run.stuck_at = Some(1.0);
    let trip = run.go_on(Some(210.0), 200);
    assert_tripped(
        trip,
        Rule::AboveTarget,
        "extruder-temperature-high",
        634.2..=635.2,
    );
}

// Source: example nozzle, heater stuck on from 210: 300 after 155.5 s; here plus 4 s of dead time. Half an ADC step
// is 0.19 K at 300 °C (12 bits) and the slope 0.35 K/s, so the noise finds the limit about a second early.
#[test]
fn a_heater_stuck_on_trips_at_the_maximum_when_nothing_else_is_watched() {
    let rules = Rules {
        above_maximum: Rules::usual(HeaterKind::Extruder).above_maximum,
        ..Rules::default()
    };
    let mut run = Run::with_rules(HeaterKind::Extruder, rules, Rails::Number, 1);
    assert_eq!(run.go_on(Some(210.0), 600), None);
    run.stuck_at = Some(1.0);
    let trip = run.go_on(Some(210.0), 200);
    assert_tripped(
        trip,
        Rule::AboveMaximum,
        "extruder-temperature-high",
        757.5..=760.0,
    );
}

// From 25 with the heater off and stuck on: 50 after 4 s of dead time and 166.7 ln(333.33/308.33) = 13.0 s.
#[test]
fn a_heater_stuck_on_while_off_trips_early_only_if_that_is_watched() {
    let mut rules = Rules::usual(HeaterKind::Extruder);
    rules.above_target = rules.above_target.map(|rule| AboveTarget {
        also_when_off: true,
        ..rule
    });
    for (rules, rule, at_s) in [
        (rules, Rule::AboveTarget, 16.4..=17.4),
        // 300 after 166.7 ln(333.33/58.33) = 290.5 s and the dead time.
        (
            Rules::usual(HeaterKind::Extruder),
            Rule::AboveMaximum,
            292.5..=295.0,
        ),
    ] {
        let mut run = Run::with_rules(HeaterKind::Extruder, rules, Rails::Number, 1);
        run.stuck_at = Some(1.0);
        assert_tripped(
            run.go_on(None, 400),
            rule,
            "extruder-temperature-high",
            at_s,
        );
    }
}

#[test]
fn an_open_sensor_trips_at_its_first_reading_on_a_host_without_rails() {
    let mut run = Run::new(HeaterKind::Extruder, Rails::Number, 1);
    assert_eq!(run.go_on(Some(210.0), 300), None);
    let struck_s = run.strike(FaultKind::Open);
    let trip = run.go_on(Some(210.0), 10);
    assert_tripped(
        trip,
        Rule::BelowMinimum,
        "extruder-temperature-low",
        struck_s..=struck_s,
    );
}

#[test]
fn an_open_sensor_trips_after_a_second_on_a_host_that_knows_its_rails() {
    let mut run = Run::new(HeaterKind::Platform, Rails::NotAvailable, 1);
    assert_eq!(run.go_on(Some(60.0), 300), None);
    let struck_s = run.strike(FaultKind::Open);
    let trip = run.go_on(Some(60.0), 10);
    assert_tripped(
        trip,
        Rule::SensorLost,
        "platform-failure",
        struck_s + 1.0..=struck_s + 1.0,
    );
}

#[test]
fn a_shorted_sensor_trips_at_its_first_reading() {
    let mut run = Run::new(HeaterKind::Platform, Rails::Number, 1);
    assert_eq!(run.go_on(Some(60.0), 300), None);
    let struck_s = run.strike(FaultKind::Short);
    let trip = run.go_on(Some(60.0), 10);
    assert_tripped(
        trip,
        Rule::AboveMaximum,
        "platform-temperature-high",
        struck_s..=struck_s,
    );
}

// A sensor frozen while heating up rises no more: 20 s after the last 2 K, of which each took about a second.
#[test]
fn a_sensor_frozen_while_heating_trips_as_heating_too_slow() {
    let mut run = Run::new(HeaterKind::Extruder, Rails::Number, 1);
    assert_eq!(run.go_on(Some(210.0), 30), None);
    let struck_s = run.strike(FaultKind::Frozen);
    let trip = run.go_on(Some(210.0), 60);
    assert_tripped(
        trip,
        Rule::HeatingTooSlow,
        "extruder-failure",
        struck_s + 18.0..=struck_s + 20.0,
    );
}

// The dangerous one: frozen at target the readings look perfect, and a host that goes by readings never knows.
#[test]
fn a_sensor_frozen_at_target_trips_nothing() {
    let mut run = Run::new(HeaterKind::Extruder, Rails::Number, 1);
    assert_eq!(run.go_on(Some(210.0), 600), None);
    run.strike(FaultKind::Frozen);
    assert_eq!(run.go_on(Some(210.0), 3600), None);
}

#[test]
fn a_loose_sensor_trips_as_a_jump_when_its_host_clamps_within_the_limits() {
    let usual = Rules::usual(HeaterKind::Extruder);
    let rules = Rules {
        jump: usual.jump,
        ..Rules::default()
    };
    let mut run = Run::with_rules(HeaterKind::Extruder, rules, Rails::Number, 1);
    assert_eq!(run.go_on(Some(210.0), 300), None);
    let struck_s = run.strike(FaultKind::Loose { probability: 0.05 });
    // At 0.05 a reading, 99.99 % of all runs have a gap within 18 s.
    assert_tripped(
        run.go_on(Some(210.0), 60),
        Rule::Jump,
        "extruder-failure",
        struck_s..=struck_s + 18.0,
    );
}
