//! Checks of coupled heaters against a published simulator, closed forms and the single heater.

use super::*;
use crate::sim::plant::FirstOrder;
use crate::sim::plant::sample::{BED, CHAMBER, any_spec};
use proptest::prelude::*;

const ROOM: f64 = 21.0;

/// The bed, at this file's room; its part fan adds 1 W/K.
const SPEC: HeaterSpec = HeaterSpec {
    loss_fan_watts_per_kelvin: 1.0,
    start_celsius: ROOM,
    ..BED
};

fn pair(watts_per_kelvin: f64) -> Vec<Coupling> {
    vec![Coupling {
        one: 0,
        other: 1,
        watts_per_kelvin,
    }]
}

fn run(group: &mut CoupledGroup, watts: &[f64], steps: u32) {
    for _ in 0..steps {
        for (heater, power) in watts.iter().enumerate() {
            group.ask(heater, *power);
        }
        group.step();
    }
}

#[test]
fn reproduces_the_two_heaters_of_the_temperature_control_lab() {
    // Source: simulator in the open Python package tclab 1.0.0 (two-heater teaching device):
    // dH1/dt = 200 Q1/5720 + (Ta - H1)/20 - (H1 - H2)/100, H2 with 100 Q2 likewise,
    // dT/dt = (H - T)/140, Ta 21. The table is its exact solution for Q1 50 %, Q2 0, worked out
    // beforehand without the package's noise, rounding of readings and Euler steps.
    // With 5720 J/K the equations are 286 W/K to the room and 57.2 W/K between the two.
    // The device's published energy balance has radiation in it and is no linear system: left out.
    let spec = HeaterSpec {
        heat_capacity_joules_per_kelvin: 5720.0,
        loss_watts_per_kelvin: 286.0,
        max_watts: 20_000.0,
        sensor_lag_s: 140.0,
        ..SPEC
    };
    let other = HeaterSpec {
        max_watts: 10_000.0,
        ..spec
    };
    let mut group = CoupledGroup::new(&[spec, other], pair(57.2), 0.1, ROOM);
    let table = [
        (0, 21.0, 21.0, 21.0),
        (10, 34.165, 21.504, 21.015),
        (30, 45.540, 24.108, 21.233),
        (60, 49.912, 28.790, 21.891),
        (120, 50.924, 36.420, 23.248),
        (180, 50.968, 41.487, 24.201),
        (300, 50.970, 46.946, 25.234),
        (600, 50.970, 50.498, 25.906),
        (1200, 50.970, 50.964, 25.994),
    ];
    let mut t = 0;
    for (at, h1, t1, t2) in table {
        run(&mut group, &[0.5 * 20_000.0, 0.0], (at - t) * 10);
        t = at;
        for (ours, theirs) in [
            (group.block_celsius(0), h1),
            (group.sensor_celsius(0), t1),
            (group.sensor_celsius(1), t2),
        ] {
            assert!(
                (ours - theirs).abs() < 5e-4 + 1e-9,
                "{ours} against {theirs} at {at} s"
            );
        }
    }
}

#[test]
fn equal_heaters_follow_the_closed_form_of_sum_and_difference() {
    // Source: adding and subtracting the two equations C x' = q - G x - K (x - y): the sum decays
    // with G/C towards q/G, the difference with (G + 2K)/C towards q/(G + 2K).
    let (c, g, k, q) = (700.0, 1.6, 0.9, 100.0);
    let mut group = CoupledGroup::new(&[SPEC, SPEC], pair(k), 0.1, ROOM);
    let mut t = 0.0;
    for steps in [1, 99, 900, 9_000] {
        run(&mut group, &[q, 0.0], steps);
        t += 0.1 * f64::from(steps);
        let sum = q / g * (1.0 - f64::exp(-g / c * t));
        let difference = q / (g + 2.0 * k) * (1.0 - f64::exp(-(g + 2.0 * k) / c * t));
        for (heater, expected) in [(0, (sum + difference) / 2.0), (1, (sum - difference) / 2.0)] {
            let risen = group.block_celsius(heater) - ROOM;
            assert!(
                (risen - expected).abs() < 1e-9,
                "{risen} against {expected}"
            );
        }
    }
}

#[test]
fn chamber_settles_where_gain_from_the_platform_equals_loss() {
    // Balance at rest: K (x - y) = G2 y and q = G1 x + K (x - y).
    let chamber = HeaterSpec {
        start_celsius: ROOM,
        ..CHAMBER
    };
    let mut group = CoupledGroup::new(&[SPEC, chamber], pair(1.0), 0.1, ROOM);
    run(&mut group, &[180.0, 1e9], 500_000);
    let platform = 180.0 / (1.6 + 2.0 / 3.0);
    assert!((group.block_celsius(0) - ROOM - platform).abs() < 1e-8);
    assert!((group.block_celsius(1) - ROOM - platform / 3.0).abs() < 1e-8);
}

#[test]
fn losses_that_come_and_go_give_the_same_as_heaters_built_with_them() {
    // More losses than are remembered, and each of them twice.
    for round in 0..2 {
        let mut group = CoupledGroup::new(&[SPEC, SPEC], pair(0.9), 0.1, ROOM);
        for k in 0..100_u32 {
            let fan = f64::from(k) / 100.0;
            let built = HeaterSpec {
                loss_watts_per_kelvin: SPEC.loss_watts_per_kelvin + fan,
                start_celsius: group.block_celsius(0),
                ..SPEC
            };
            let other = HeaterSpec {
                start_celsius: group.block_celsius(1),
                ..SPEC
            };
            let mut fresh = CoupledGroup::new(&[built, other], pair(0.9), 0.1, ROOM);
            for _ in 0..=round {
                group.set_fan_fraction(0, 0.5);
                group.set_fan_fraction(0, fan);
            }
            run(&mut group, &[150.0, 0.0], 10);
            run(&mut fresh, &[150.0, 0.0], 10);
            for heater in 0..2 {
                let (a, b) = (group.block_celsius(heater), fresh.block_celsius(heater));
                assert!((a - b).abs() < 1e-10, "{a} against {b} at fan {fan}");
            }
        }
    }
}

#[test]
fn group_at_rest_stays_at_the_room_to_the_last_digit_and_among_fast_numbers() {
    let warm = HeaterSpec {
        start_celsius: 60.0,
        loss_watts_per_kelvin: 100.0,
        ..SPEC
    };
    let mut group = CoupledGroup::new(&[warm, SPEC], pair(100.0), 0.1, ROOM);
    run(&mut group, &[0.0, 0.0], 200_000);
    for heater in 0..2 {
        assert_eq!(group.block_celsius(heater).to_bits(), ROOM.to_bits());
        assert!(group.now[heater].is_normal(), "{:e}", group.now[heater]);
    }
}

proptest! {
    #[test]
    fn coupling_of_zero_is_no_coupling(
        (one, other) in (any_spec(), any_spec()),
        dead_times in (0.0..2.0_f64, 0.0..2.0_f64),
        duties in prop::collection::vec(0.0..1.0_f64, 1..100),
    ) {
        let one = HeaterSpec { dead_time_s: dead_times.0, ..one };
        let other = HeaterSpec { dead_time_s: dead_times.1, ..other };
        let mut group = CoupledGroup::new(&[one, other], pair(0.0), 0.1, ROOM);
        let mut alone = [one, other].map(|spec| FirstOrder::new(spec, 0.1, ROOM).unwrap());
        for duty in duties {
            let watts = [duty * one.max_watts, (1.0 - duty) * other.max_watts];
            run(&mut group, &watts, 1);
            for (heater, power) in watts.into_iter().enumerate() {
                let (a, b) = (group.sensor_celsius(heater), alone[heater].step(power));
                prop_assert!((a - b).abs() < 1e-9 * (1.0 + b.abs()), "{a} against {b}");
            }
        }
    }

    #[test]
    fn one_long_step_equals_two_short_ones(
        one in any_spec(),
        other in any_spec(),
        between in 0.0..20.0_f64,
        duty in 0.0..1.0_f64,
    ) {
        let specs = [one, other];
        let mut long = CoupledGroup::new(&specs, pair(between), 0.2, ROOM);
        let mut short = CoupledGroup::new(&specs, pair(between), 0.1, ROOM);
        let watts = [duty * one.max_watts, (1.0 - duty) * other.max_watts];
        run(&mut long, &watts, 20);
        run(&mut short, &watts, 40);
        for heater in 0..2 {
            let (a, b) = (long.sensor_celsius(heater), short.sensor_celsius(heater));
            prop_assert!((a - b).abs() < 1e-9 * (1.0 + b.abs()), "{a} against {b}");
        }
    }

    #[test]
    fn coupling_moves_heat_and_makes_none(
        one in any_spec(),
        other in any_spec(),
        between in 0.0..20.0_f64,
    ) {
        // Without losses and power the stored heat C1 T1 + C2 T2 stays.
        let specs = [one, other].map(|spec| HeaterSpec { loss_watts_per_kelvin: 0.0, ..spec });
        let mut group = CoupledGroup::new(&specs, pair(between), 0.1, ROOM);
        let stored = |group: &CoupledGroup| -> f64 {
            (0..2)
                .map(|k| specs[k].heat_capacity_joules_per_kelvin * group.block_celsius(k))
                .sum()
        };
        let before = stored(&group);
        run(&mut group, &[0.0, 0.0], 500);
        let scale = specs.iter().map(|s| s.heat_capacity_joules_per_kelvin).sum::<f64>() * 400.0;
        prop_assert!((stored(&group) - before).abs() < 1e-9 * scale);
        let (low, high) = (one.start_celsius.min(other.start_celsius), one.start_celsius.max(other.start_celsius));
        for heater in 0..2 {
            let celsius = group.block_celsius(heater);
            prop_assert!((low - 1e-9..=high + 1e-9).contains(&celsius), "{celsius}");
        }
    }
}
