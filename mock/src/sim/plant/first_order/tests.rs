//! Checks of the single heater against textbooks and closed forms.
//!
//! Tables whose source is `worked out beforehand` were computed from the closed forms in double
//! precision by another program and are held to their last printed digit.

use super::*;
use crate::sim::analytic::{response, time_between_s};
use crate::sim::plant::melting_watts_per_kelvin;
use crate::sim::plant::sample::{BED, NOZZLE, ROOM, any_spec};
use proptest::prelude::*;

const PERIOD_S: f64 = 0.1;
fn heater(spec: HeaterSpec) -> FirstOrder {
    FirstOrder::new(spec, PERIOD_S, ROOM).unwrap()
}

/// Gives the time at which a reading first passes a temperature, on the line between two steps.
///
/// That line is off the curve by less than a tenth of a millisecond: half the step squared over 8
/// times tau.
fn passes_after_s(heater: &mut FirstOrder, watts: f64, celsius: f64) -> f64 {
    let mut before = heater.sensor_celsius();
    for k in 0..1_000_000_u32 {
        let after = heater.step(watts);
        if (before - celsius) * (after - celsius) <= 0.0 {
            return (f64::from(k) + (celsius - before) / (after - before)) * PERIOD_S;
        }
        before = after;
    }
    panic!("never passes {celsius} C");
}

fn after(heater: &mut FirstOrder, watts: f64, steps: u32) -> f64 {
    for _ in 0..steps {
        heater.step(watts);
    }
    heater.sensor_celsius()
}

#[test]
fn reaches_the_textbook_fractions_after_whole_time_constants() {
    // Source: table of 1 - e^(-t/tau) in any textbook, percent to three places.
    // Capacity 20 J/K over loss 2 W/K is tau 10 s, 100 steps; 200 W makes T_ss 100 K above the room.
    let spec = HeaterSpec {
        loss_watts_per_kelvin: 2.0,
        max_watts: 200.0,
        ..NOZZLE
    };
    let mut heater = heater(spec);
    for percent in [63.212, 86.466, 95.021, 98.168, 99.326] {
        let risen = after(&mut heater, 200.0, 100) - ROOM;
        assert!((risen - percent).abs() < 5e-4, "{risen} against {percent}");
    }
}

#[test]
fn thermocouple_bead_is_at_99_percent_after_ten_seconds() {
    // Source: Çengel, Heat Transfer, Example 4-1: bead of 1 mm, rho 8500, cp 320, h 210;
    // b = h / (rho cp Lc) = 0.463 1/s, 99 % after about 10 s (unrounded 9.94).
    let (diameter, density, specific_heat, film): (f64, f64, f64, f64) =
        (1e-3, 8500.0, 320.0, 210.0);
    let area = std::f64::consts::PI * diameter * diameter;
    let bead = HeaterSpec {
        heat_capacity_joules_per_kelvin: density * specific_heat * area * diameter / 6.0,
        loss_watts_per_kelvin: film * area,
        start_celsius: 0.0,
        ..NOZZLE
    };
    // The bead's capacity is 1.4 mJ/K, inside the limits.
    let mut bead = FirstOrder::new(bead, 0.01, 100.0).unwrap();
    let mut steps = 0_u32;
    while bead.step(0.0) < 99.0 {
        steps += 1;
    }
    let t = f64::from(steps) * 0.01;
    assert!((t - 9.94).abs() < 0.01, "{t} s");
}

#[test]
fn thermocouple_junction_is_within_a_kelvin_after_5_2_seconds() {
    // Source: Incropera/DeWitt, Fundamentals of Heat and Mass Transfer, Example 5.1 (from memory):
    // h 400, c 400, rho 8500, tau 1 s gives D 7.06e-4 m; from 25 in gas at 200 to 199: 5.2 s.
    let (film, specific_heat, density) = (400.0, 400.0, 8500.0);
    let diameter = 6.0 * film / (density * specific_heat);
    assert!((diameter - 7.06e-4_f64).abs() < 5e-7);
    let area = std::f64::consts::PI * diameter * diameter;
    let junction = HeaterSpec {
        // A thousand junctions side by side: the same tau, and a capacity inside the limits.
        heat_capacity_joules_per_kelvin: 1e3 * density * specific_heat * area * diameter / 6.0,
        loss_watts_per_kelvin: 1e3 * film * area,
        ..NOZZLE
    };
    let mut junction = FirstOrder::new(junction, PERIOD_S, 200.0).unwrap();
    assert!(after(&mut junction, 0.0, 51) < 199.0);
    assert!(after(&mut junction, 0.0, 1) > 199.0);
}

#[test]
fn nozzle_heats_and_cools_in_the_time_of_the_closed_form() {
    // Source: worked out beforehand: 25 to 210 in 134.9 s, 210 to 50 in 333.6 s.
    let mut nozzle = heater(NOZZLE);
    let up = passes_after_s(&mut nozzle, 40.0, 210.0);
    assert!((up - 134.9).abs() < 0.05, "{up} s");
    let mut nozzle = heater(HeaterSpec {
        start_celsius: 210.0,
        ..NOZZLE
    });
    let down = passes_after_s(&mut nozzle, 0.0, 50.0);
    assert!((down - 333.6).abs() < 0.05, "{down} s");
}

#[test]
fn bed_heats_and_cools_in_the_time_of_the_closed_form() {
    // Source: worked out beforehand: 25 to 60 in 163.0 s, 60 to 30 in 851.3 s.
    let up = passes_after_s(&mut heater(BED), 180.0, 60.0);
    assert!((up - 163.0).abs() < 0.05, "{up} s");
    let mut bed = heater(HeaterSpec {
        start_celsius: 60.0,
        ..BED
    });
    let down = passes_after_s(&mut bed, 0.0, 30.0);
    assert!((down - 851.3).abs() < 0.05, "{down} s");
}

#[test]
fn dead_time_shifts_the_whole_curve() {
    // Source: worked out beforehand, nozzle with 4 s of dead time at full power.
    let mut nozzle = heater(HeaterSpec {
        dead_time_s: 4.0,
        ..NOZZLE
    });
    let mut t = 0;
    for (at, celsius) in [
        (4, 25.00),
        (10, 36.79),
        (30, 73.15),
        (60, 120.13),
        (120, 192.14),
        (171, 235.95),
        (300, 301.90),
    ] {
        let reading = after(&mut nozzle, 40.0, (at - t) * 10);
        t = at;
        assert!((reading - celsius).abs() < 5e-3, "{reading} at {at} s");
    }
}

#[test]
fn heater_stuck_on_runs_away_as_fast_as_the_closed_form() {
    // Source: worked out beforehand: from 210, 260 after 68.5 s and 300 after 155.5 s.
    for (celsius, seconds) in [(260.0, 68.5), (300.0, 155.5)] {
        let mut nozzle = heater(HeaterSpec {
            start_celsius: 210.0,
            ..NOZZLE
        });
        let t = passes_after_s(&mut nozzle, 40.0, celsius);
        assert!((t - seconds).abs() < 0.05, "{celsius} after {t} s");
    }
}

#[test]
fn part_fan_raises_the_power_that_holds_210() {
    // Source: worked out beforehand: 22.2 W with the fan still, 25.9 W at full fan.
    for (fan, watts) in [(0.0, 0.12 * 185.0), (1.0, 0.14 * 185.0)] {
        let mut nozzle = heater(HeaterSpec {
            start_celsius: 210.0,
            ..NOZZLE
        });
        nozzle.set_fan_fraction(fan);
        let reading = after(&mut nozzle, watts, 100_000);
        assert!((reading - 210.0).abs() < 1e-9, "{reading} at {watts} W");
    }
    assert!((0.12_f64 * 185.0 - 22.2).abs() < 0.05);
    assert!((0.14_f64 * 185.0 - 25.9).abs() < 0.05);
}

#[test]
fn moving_filament_acts_as_one_more_loss() {
    // Source: energy balance; 4.8 mm³/s of 1.24e-3 g/mm³ and 1.8 J/gK take 2.04 W at 190 K
    // (common practice), so holding 215 with the filament moving takes 0.12 × 190 + 2.04 W.
    let flow = melting_watts_per_kelvin(4.8, 1.24e-3, 1.8);
    let mut nozzle = heater(HeaterSpec {
        start_celsius: 215.0,
        ..NOZZLE
    });
    nozzle.set_flow_watts_per_kelvin(flow);
    let reading = after(&mut nozzle, 0.12 * 190.0 + 2.0356, 100_000);
    assert!((reading - 215.0).abs() < 1e-3, "{reading}");
}

#[test]
fn broken_element_cools_whatever_is_asked() {
    let mut nozzle = heater(HeaterSpec {
        start_celsius: 210.0,
        ..NOZZLE
    });
    nozzle.set_power_factor(0.0);
    let reading = after(&mut nozzle, 40.0, 3336);
    assert!((reading - 50.0).abs() < 0.05, "{reading}");
    assert!(nozzle.power_watts().abs() < f64::EPSILON);
}

#[test]
fn power_that_is_not_a_number_never_heats() {
    let mut nozzle = heater(NOZZLE);
    let reading = after(&mut nozzle, f64::NAN, 1_000);
    assert!((reading - ROOM).abs() < f64::EPSILON);
}

#[test]
fn inputs_beyond_their_range_are_held_to_it() {
    let run = |factor: f64, fan: f64, flow: f64| {
        let mut nozzle = heater(NOZZLE);
        nozzle.set_power_factor(factor);
        nozzle.set_fan_fraction(fan);
        nozzle.set_flow_watts_per_kelvin(flow);
        after(&mut nozzle, 30.0, 1_000).to_bits()
    };
    assert_eq!(run(7.0, 2.0, -1.0), run(1.0, 1.0, 0.0));
    assert_eq!(run(-1.0, -1.0, f64::NAN), run(0.0, 0.0, 0.0));
    assert_eq!(run(1.0, f64::NAN, f64::INFINITY), run(1.0, 0.0, 1e3));
    assert_ne!(run(1.0, 0.0, 0.0), run(1.0, 1.0, 0.0));
}

#[test]
fn change_of_the_room_leaves_the_heater_where_it_is_and_sends_it_elsewhere() {
    let mut bed = heater(HeaterSpec {
        start_celsius: 60.0,
        ..BED
    });
    bed.set_room_celsius(10.0);
    assert!((bed.sensor_celsius() - 60.0).abs() < 1e-12);
    let reading = after(&mut bed, 0.0, 4375);
    assert!((reading - response(60.0, 10.0, 437.5, 437.5)).abs() < 1e-9);
}

#[test]
fn heater_at_rest_stays_at_the_room_to_the_last_digit() {
    let mut bed = heater(BED);
    assert_eq!(after(&mut bed, 0.0, 864_000).to_bits(), ROOM.to_bits());
}

#[test]
fn heater_that_cools_for_days_keeps_to_fast_numbers() {
    // tau 10 s: two hours are 720 time constants, what a nozzle sees in a day and a half; e^-720 of
    // 185 K is 1e-310, below the smallest normal number.
    let mut heater = heater(HeaterSpec {
        loss_watts_per_kelvin: 2.0,
        sensor_lag_s: 3.0,
        start_celsius: 210.0,
        ..NOZZLE
    });
    after(&mut heater, 0.0, 72_000);
    assert!(heater.block.is_normal() && heater.sensor.is_normal());
    assert_eq!(heater.sensor_celsius().to_bits(), ROOM.to_bits());
}

#[test]
fn sensor_that_lags_shows_the_closed_form_of_two_time_constants() {
    // Source: block T_ss (1 - e^(-t/a)), sensor T_ss (1 - (a e^(-t/a) - b e^(-t/b)) / (a - b)), any
    // textbook on control; 200 s after a step.
    let (a, b) = (20.0 / 0.12, 3.0);
    let mut nozzle = heater(HeaterSpec {
        sensor_lag_s: b,
        ..NOZZLE
    });
    for steps in [1, 9, 90, 1900] {
        let reading = after(&mut nozzle, 30.0, steps);
        let t = match steps {
            1 => 0.1,
            9 => 1.0,
            90 => 10.0,
            _ => 200.0,
        };
        let weight = (a * f64::exp(-t / a) - b * f64::exp(-t / b)) / (a - b);
        let expected = ROOM + 250.0 * (1.0 - weight);
        assert!((reading - expected).abs() < 1e-10, "{reading} at {t} s");
        let block = response(ROOM, ROOM + 250.0, a, t);
        assert!((nozzle.block_celsius() - block).abs() < 1e-10);
    }
}

#[test]
fn body_without_loss_warms_in_proportion_to_the_energy() {
    let mut body = heater(HeaterSpec {
        loss_watts_per_kelvin: 0.0,
        ..NOZZLE
    });
    // 40 W for 10 s into 20 J/K is 20 K.
    let reading = after(&mut body, 40.0, 100);
    assert!((reading - 45.0).abs() < 1e-12, "{reading}");
}

#[test]
fn spec_outside_the_limits_is_refused_by_name() {
    let error = FirstOrder::new(
        HeaterSpec {
            heat_capacity_joules_per_kelvin: 0.0,
            ..NOZZLE
        },
        PERIOD_S,
        ROOM,
    )
    .expect_err("no body has no capacity");
    assert!(error.to_string().starts_with("heat capacity is 0 J/K"));
    let error = FirstOrder::new(
        HeaterSpec {
            sensor_lag_s: 1e-9,
            ..NOZZLE
        },
        PERIOD_S,
        ROOM,
    )
    .expect_err("too short to be a lag");
    assert!(matches!(error, PlantError::SensorLagTooShort { .. }));
}

proptest! {
    #[test]
    fn never_leaves_the_range_between_start_and_steady(
        spec in any_spec(),
        duties in prop::collection::vec(0.0..1.0_f64, 1..200),
    ) {
        let mut heater = heater(spec);
        let hottest = ROOM + spec.max_watts / spec.loss_watts_per_kelvin;
        let allowed = 1e-12 * (hottest.abs() + 1e3);
        let low = spec.start_celsius.min(ROOM) - allowed;
        let high = spec.start_celsius.max(hottest) + allowed;
        for duty in duties {
            let reading = heater.step(duty * spec.max_watts);
            prop_assert!((low..=high).contains(&reading), "{reading} outside {low}..{high}");
            prop_assert!((low..=high).contains(&heater.block_celsius()));
        }
    }

    #[test]
    fn one_long_step_equals_two_short_ones(spec in any_spec(), duty in 0.0..1.0_f64) {
        let mut long = FirstOrder::new(spec, 0.2, ROOM).unwrap();
        let mut short = FirstOrder::new(spec, 0.1, ROOM).unwrap();
        for _ in 0..50 {
            let watts = duty * spec.max_watts;
            short.step(watts);
            let (a, b) = (long.step(watts), short.step(watts));
            prop_assert!((a - b).abs() < 1e-10 * (1.0 + a.abs()), "{a} against {b}");
        }
    }

    #[test]
    fn what_goes_in_is_stored_or_lost(
        spec in any_spec(),
        duties in prop::collection::vec(0.0..1.0_f64, 1..100),
    ) {
        // C ΔT = ∫ P dt - ∫ G (T - Ta) dt, the last by Simpson's rule over two steps of 0.05 s. With
        // tau at least 2 s the rule is off by (0.1 / tau)⁴ / 2880 = 2e-9 of the change.
        let spec = HeaterSpec {
            heat_capacity_joules_per_kelvin: spec.heat_capacity_joules_per_kelvin
                .max(2.0 * spec.loss_watts_per_kelvin),
            ..spec
        };
        let mut heater = FirstOrder::new(spec, 0.05, ROOM).unwrap();
        let (mut put_in, mut lost) = (0.0, 0.0);
        for duty in duties {
            let watts = duty * spec.max_watts;
            let first = heater.block_celsius() - ROOM;
            heater.step(watts);
            let middle = heater.block_celsius() - ROOM;
            heater.step(watts);
            let last = heater.block_celsius() - ROOM;
            put_in += watts * 0.1;
            lost += spec.loss_watts_per_kelvin * (first + 4.0 * middle + last) / 6.0 * 0.1;
        }
        let stored =
            spec.heat_capacity_joules_per_kelvin * (heater.block_celsius() - spec.start_celsius);
        let scale = put_in + lost.abs() + stored.abs() + spec.heat_capacity_joules_per_kelvin;
        prop_assert!((put_in - lost - stored).abs() < 1e-8 * scale);
    }

    #[test]
    fn follows_the_closed_form_from_any_start(spec in any_spec(), steps in 1..2_000_u32) {
        let spec = HeaterSpec { sensor_lag_s: 0.0, ..spec };
        let reading = after(&mut heater(spec), spec.max_watts, steps);
        let steady = ROOM + spec.max_watts / spec.loss_watts_per_kelvin;
        let tau = spec.heat_capacity_joules_per_kelvin / spec.loss_watts_per_kelvin;
        let expected = response(spec.start_celsius, steady, tau, f64::from(steps) * PERIOD_S);
        prop_assert!((reading - expected).abs() < 1e-9 * (1.0 + steady.abs()), "{reading} against {expected}");
        if steady > spec.start_celsius + 1.0 {
            // And the time formula is the response turned round.
            let t = time_between_s(spec.start_celsius, spec.start_celsius + 0.5, steady, tau);
            prop_assert!((response(spec.start_celsius, steady, tau, t) - spec.start_celsius - 0.5).abs() < 1e-6);
        }
    }
}
