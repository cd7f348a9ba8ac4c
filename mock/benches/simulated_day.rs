//! How long one simulated day takes; `compare.py` beside this file sets it against other ways.

use std::hint::black_box;
use std::sync::Arc;

use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::control::{Controller, Pid, PidSettings};
use coldbed_mock::sim::plant::{HeaterSpec, PlantError, ThermalNetwork};
use coldbed_mock::sim::{Simulation, Tick, VirtualTime};
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group};
use std::time::Duration;

const TICKS_PER_DAY: u64 = 24 * 3600 * 10;
const ROOM_CELSIUS: f64 = 25.0;

/// The example heaters with their SIMC settings. No dead time: an adaptive solver of ordinary
/// differential equations, which `compare.py` runs on the same day, cannot carry one.
///
/// Source: common practice; nozzle tau 166.7 s, bed tau 437.5 s.
const NOZZLE: HeaterSpec = HeaterSpec {
    heat_capacity_joules_per_kelvin: 20.0,
    loss_watts_per_kelvin: 0.12,
    loss_fan_watts_per_kelvin: 0.0,
    max_watts: 40.0,
    dead_time_s: 0.0,
    sensor_lag_s: 0.0,
    start_celsius: ROOM_CELSIUS,
};
const BED: HeaterSpec = HeaterSpec {
    heat_capacity_joules_per_kelvin: 700.0,
    loss_watts_per_kelvin: 1.6,
    max_watts: 180.0,
    ..NOZZLE
};
const TARGETS_CELSIUS: [f64; 2] = [210.0, 60.0];
const NOZZLE_PID: PidSettings = PidSettings {
    gain_watts_per_kelvin: 2.5,
    integral_time_s: 32.0,
    derivative_time_s: 0.0,
};
const BED_PID: PidSettings = PidSettings {
    gain_watts_per_kelvin: 70.0,
    integral_time_s: 40.0,
    derivative_time_s: 0.0,
};

/// A print of a whole day with two PID heaters, dead time and sensor noise.
const LONG_PRINT: &str = r#"
title = "A print of thirty hours, for timing"
include = "desk-printer"
length = "30h"

[heaters.platform]
control = { method = "pid", gain-watts-per-kelvin = 70, integral-time = "40s" }

[[job]]
name = "day-long-vase"
at = "1m"
duration = "29h"
targets-celsius = { platform = 60, extruder = 210 }
"#;

/// What a day without host, sensor and job comes to; printed, so that two ways can be seen to have
/// done the same work.
struct Day {
    joules: [f64; 2],
    ends_celsius: [f64; 2],
    hottest_celsius: [f64; 2],
}

/// Runs two heaters under PID control for a day and nothing else.
fn plant_and_controller_day() -> Result<Day, PlantError> {
    let mut network = ThermalNetwork::new(Tick::PERIOD_S, ROOM_CELSIUS, &[NOZZLE, BED], &[])?;
    let mut controllers = [NOZZLE_PID, BED_PID].map(controller);
    let mut watts = [0.0; 2];
    let mut joules = [0.0; 2];
    let mut hottest_celsius = [ROOM_CELSIUS; 2];
    for _ in 0..TICKS_PER_DAY {
        for (heater, controller) in controllers.iter_mut().enumerate() {
            let celsius = network.sensor_celsius(heater);
            watts[heater] = controller.output_watts(
                Some(TARGETS_CELSIUS[heater]),
                celsius,
                network.max_watts(heater),
            );
            joules[heater] += watts[heater] * Tick::PERIOD_S;
            hottest_celsius[heater] = celsius.max(hottest_celsius[heater]);
        }
        network.step_watts(&watts);
    }
    Ok(Day {
        joules,
        ends_celsius: [0, 1].map(|heater| network.sensor_celsius(heater)),
        hottest_celsius,
    })
}

/// Builds a controller.
///
/// # Panics
/// On settings that are no use: the ones above are constants.
fn controller(settings: PidSettings) -> Controller {
    match Pid::new(settings, Tick::PERIOD_S) {
        Ok(pid) => Controller::Pid(pid),
        Err(error) => panic!("a constant of this benchmark is no use: {error}"),
    }
}

/// Reads a scenario of this benchmark.
///
/// # Panics
/// On a text that is wrong: the ones here are constants.
fn scenario(text: &str) -> Arc<Scenario> {
    match Scenario::parse("simulated_day", text) {
        Ok(scenario) => Arc::new(scenario),
        Err(error) => panic!("a scenario of this benchmark is wrong: {error}"),
    }
}

fn simulated_day(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("day");
    group
        .sample_size(20)
        .throughput(Throughput::Elements(TICKS_PER_DAY));
    group.bench_function("plant-and-controller", |bencher| {
        bencher.iter(plant_and_controller_day);
    });
    let noisy = scenario(LONG_PRINT);
    let silent = scenario(&LONG_PRINT.replace("noise-celsius", "# noise-celsius"));
    for (name, scenario) in [
        ("simulation", &noisy),
        ("simulation-without-noise", &silent),
    ] {
        group.bench_function(name, |bencher| {
            bencher.iter(|| {
                let mut simulation = Simulation::new(Arc::clone(scenario), 1);
                simulation.advance_to(Tick(TICKS_PER_DAY));
                black_box(simulation.phase())
            });
        });
    }
    group.finish();
}

fn jump(criterion: &mut Criterion) {
    let scenario = scenario(LONG_PRINT);
    let mut group = criterion.benchmark_group("jump");
    group.sample_size(20);
    for minutes in [1, 60, 6 * 60, 12 * 60, 24 * 60] {
        let at = VirtualTime::new(Duration::from_secs(60 * minutes));
        group.bench_with_input(BenchmarkId::new("minutes", minutes), &at, |bencher, at| {
            bencher.iter(|| Simulation::new(Arc::clone(&scenario), 1).truth_at(*at));
        });
    }
    group.finish();
}

criterion_group!(benches, simulated_day, jump);

fn main() -> Result<(), PlantError> {
    let day = plant_and_controller_day()?;
    for heater in 0..2 {
        println!(
            "heater {heater}: joules {:.6} ends {:.9} hottest {:.9}",
            day.joules[heater], day.ends_celsius[heater], day.hottest_celsius[heater]
        );
    }
    benches();
    Criterion::default().configure_from_args().final_summary();
    Ok(())
}
