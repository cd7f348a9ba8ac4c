//! Checks that the network sends each input to its heater and each heater to its reading.

use super::*;
use crate::sim::plant::sample::{self, CHAMBER, ROOM};

const PERIOD_S: f64 = 0.1;
const NOZZLE: HeaterSpec = HeaterSpec {
    dead_time_s: 4.0,
    sensor_lag_s: 3.0,
    ..sample::NOZZLE
};
const BED: HeaterSpec = HeaterSpec {
    dead_time_s: 4.0,
    sensor_lag_s: 3.0,
    ..sample::BED
};

fn joins(one: usize, other: usize) -> Coupling {
    Coupling {
        one,
        other,
        watts_per_kelvin: 1.0,
    }
}

#[test]
fn order_of_the_heaters_does_not_change_what_they_do() {
    // Bed and chamber coupled, nozzle alone: once side by side, once with the nozzle between them.
    let mut apart =
        ThermalNetwork::new(PERIOD_S, ROOM, &[BED, NOZZLE, CHAMBER], &[joins(2, 0)]).unwrap();
    let mut beside =
        ThermalNetwork::new(PERIOD_S, ROOM, &[NOZZLE, BED, CHAMBER], &[joins(1, 2)]).unwrap();
    let mut nozzle = FirstOrder::new(NOZZLE, PERIOD_S, ROOM).unwrap();
    for k in 0..5_000 {
        if k == 2_000 {
            nozzle.set_fan_fraction(1.0);
            nozzle.set_room_celsius(15.0);
            for (network, at) in [(&mut apart, [0, 1]), (&mut beside, [1, 0])] {
                network.set_room_celsius(15.0);
                network.set_fan_fraction(at[1], 1.0);
                network.set_flow_watts_per_kelvin(at[0], 0.2);
            }
        }
        if k == 4_000 {
            apart.set_power_factor(0, 0.5);
            beside.set_power_factor(1, 0.5);
            apart.set_power_factor(1, 0.0);
            beside.set_power_factor(0, 0.0);
            nozzle.set_power_factor(0.0);
        }
        apart.step_watts(&[150.0, 30.0, 0.0]);
        beside.step_watts(&[30.0, 150.0, 0.0]);
        nozzle.step(30.0);
        for (a, b) in [(0, 1), (1, 0), (2, 2)] {
            let bits = |celsius: f64| celsius.to_bits();
            assert_eq!(
                bits(apart.sensor_celsius(a)),
                bits(beside.sensor_celsius(b))
            );
            assert_eq!(bits(apart.block_celsius(a)), bits(beside.block_celsius(b)));
        }
        assert_eq!(
            apart.sensor_celsius(1).to_bits(),
            nozzle.sensor_celsius().to_bits()
        );
    }
    // The run was no rest: everything is warm, and the chamber by the bed alone.
    assert!(apart.sensor_celsius(0) > 50.0 && apart.sensor_celsius(2) > 20.0);
    assert!((apart.power_watts(0) - 75.0).abs() < 1e-9);
    assert!((apart.loss_watts_per_kelvin(0) - 1.8).abs() < 1e-12);
    assert!((apart.loss_watts_per_kelvin(1) - 0.14).abs() < 1e-12);
}

#[test]
fn duty_is_the_fraction_of_each_heater_s_full_power() {
    let heaters = [NOZZLE, BED, CHAMBER];
    let mut by_duty = ThermalNetwork::new(PERIOD_S, ROOM, &heaters, &[joins(1, 2)]).unwrap();
    let mut by_watts = by_duty.clone();
    for _ in 0..1_000 {
        by_duty.step(&[0.5, 0.25, 1.0]);
        by_watts.step_watts(&[20.0, 45.0, 0.0]);
    }
    for heater in 0..3 {
        let (a, b) = (
            by_duty.sensor_celsius(heater),
            by_watts.sensor_celsius(heater),
        );
        assert_eq!(a.to_bits(), b.to_bits(), "heater {heater}");
    }
    assert!(by_duty.sensor_celsius(0) > 90.0);
}

#[test]
fn reading_is_the_same_to_the_last_bit_on_every_machine() {
    // Regression value, no outside source: only the four basic operations are used, so a different
    // one means that something machine-dependent crept in, or that the arithmetic was changed.
    let heaters = [NOZZLE, BED, CHAMBER];
    let mut network = ThermalNetwork::new(PERIOD_S, ROOM, &heaters, &[joins(1, 2)]).unwrap();
    for _ in 0..3_000 {
        network.step_watts(&[22.0, 100.0, 0.0]);
    }
    let bits = [0, 1, 2].map(|heater| network.sensor_celsius(heater).to_bits());
    assert_eq!(
        bits,
        [
            0x4066_1726_7857_b68d,
            0x4049_551c_3ee4_014b,
            0x403a_5958_38be_e7bf
        ]
    );
}

#[test]
fn coupling_of_zero_leaves_a_heater_alone() {
    let none = Coupling {
        watts_per_kelvin: 0.0,
        ..joins(0, 1)
    };
    let network = ThermalNetwork::new(PERIOD_S, ROOM, &[NOZZLE, BED], &[none]).unwrap();
    assert_eq!((network.alone.len(), network.groups.len()), (2, 0));
}

#[test]
fn heaters_joined_through_others_are_one_group() {
    let couplings = [joins(4, 2), joins(0, 1), joins(2, 0)];
    let network = ThermalNetwork::new(PERIOD_S, ROOM, &[BED; 6], &couplings).unwrap();
    let members: Vec<_> = network.groups.iter().map(|(members, _)| members).collect();
    assert_eq!(members, [&vec![0, 1, 2, 4]]);
    assert_eq!(network.alone.len(), 2);
}

#[test]
fn couplings_of_one_pair_add_up() {
    let twice = Coupling {
        watts_per_kelvin: 2.0,
        ..joins(0, 1)
    };
    let mut once = ThermalNetwork::new(PERIOD_S, ROOM, &[BED, CHAMBER], &[twice]).unwrap();
    let both = [joins(0, 1), joins(1, 0)];
    let mut split = ThermalNetwork::new(PERIOD_S, ROOM, &[BED, CHAMBER], &both).unwrap();
    for _ in 0..1_000 {
        once.step_watts(&[100.0, 0.0]);
        split.step_watts(&[100.0, 0.0]);
    }
    assert!((once.sensor_celsius(1) - split.sensor_celsius(1)).abs() < 1e-12);
    assert!(once.sensor_celsius(1) > ROOM + 0.1);
}

#[test]
fn coupling_with_a_wrong_end_is_refused() {
    let build = |coupling| ThermalNetwork::new(PERIOD_S, ROOM, &[BED, CHAMBER], &[coupling]);
    let error = build(joins(0, 2)).expect_err("there is no heater 2");
    assert_eq!(
        error.to_string(),
        "coupling names heater 2 of 2 (heaters are counted from 0)"
    );
    let error = build(joins(1, 1)).expect_err("no heat flows from a body to itself");
    assert_eq!(error, PlantError::SelfCoupling { index: 1 });
    let cold = Coupling {
        watts_per_kelvin: -1.0,
        ..joins(0, 1)
    };
    assert!(matches!(build(cold), Err(PlantError::OutOfRange { .. })));
}

#[test]
fn period_outside_its_limits_is_refused() {
    for period_s in [0.0, -0.1, f64::NAN, 1e9] {
        let error = ThermalNetwork::new(period_s, ROOM, &[BED], &[]).expect_err("no period");
        assert!(error.to_string().starts_with("control period is "));
    }
}

#[test]
fn every_heater_goes_to_a_new_room_s_temperature() {
    let heaters = [NOZZLE, BED, CHAMBER];
    let mut network = ThermalNetwork::new(PERIOD_S, ROOM, &heaters, &[joins(1, 2)]).unwrap();
    network.set_room_celsius(5.0);
    for heater in 0..3 {
        assert!((network.block_celsius(heater) - ROOM).abs() < 1e-12);
    }
    for _ in 0..500_000 {
        network.step_watts(&[0.0; 3]);
    }
    for heater in 0..3 {
        assert!((network.sensor_celsius(heater) - 5.0).abs() < 1e-9);
    }
}

#[test]
fn room_that_is_no_temperature_changes_nothing() {
    let mut network = ThermalNetwork::new(PERIOD_S, ROOM, &[BED, CHAMBER], &[joins(0, 1)]).unwrap();
    for room in [f64::NAN, f64::INFINITY, -300.0] {
        network.set_room_celsius(room);
    }
    network.step_watts(&[0.0, 0.0]);
    assert_eq!(network.room_celsius().to_bits(), ROOM.to_bits());
    assert_eq!(network.sensor_celsius(0).to_bits(), ROOM.to_bits());
}

#[test]
#[should_panic(expected = "one power per heater")]
fn list_of_powers_of_the_wrong_length_is_a_fault_of_the_caller() {
    let mut network = ThermalNetwork::new(PERIOD_S, ROOM, &[NOZZLE, BED], &[]).unwrap();
    network.step_watts(&[1.0]);
}
