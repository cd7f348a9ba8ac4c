//! What each key comes to in the plan.

use super::super::plan::{EstimatePlan, Estimator, HeaterPlan, ProgressMeasure, RoomPlan};
use super::super::{Program, Scenario, Start, When};
use super::{EVERY_KEY, EVERY_KEY_SHELF, WHOLE, with};
use crate::sim::Tick;
use crate::sim::sensor::{Element, SensorChain};

fn every_key() -> Scenario {
    Scenario::load("dir/every-key.toml", EVERY_KEY, &EVERY_KEY_SHELF).unwrap()
}

fn extruder(replace: &str, by: &str) -> HeaterPlan {
    let text = with(WHOLE, replace, by);
    Scenario::parse("my.toml", &text).unwrap().heaters["extruder"].clone()
}

#[test]
fn every_key_of_the_rest_is_read_as_it_stands() {
    let scenario = every_key();
    insta::assert_debug_snapshot!((
        scenario.room,
        scenario.up_time_at_start_s,
        scenario.clock_at_start_unix_s,
        scenario.length,
        scenario.material,
        &scenario.couplings,
        &scenario.events,
    ));
}

#[test]
fn every_key_of_a_heater_is_read_as_it_stands() {
    let plans: Vec<_> = every_key()
        .heaters
        .into_iter()
        .map(|(name, plan)| (name, plan.kind, plan.control, plan.protection))
        .collect();
    insta::assert_debug_snapshot!(plans);
}

#[test]
fn every_key_of_a_job_is_read_as_it_stands() {
    let jobs: Vec<_> = every_key()
        .jobs
        .into_iter()
        .map(|job| {
            let layers = match &job.program {
                Program::Duration { layers, .. } => *layers,
                Program::Planned(planned) => planned.plan.totals.layers,
            };
            (
                job.name,
                job.start,
                layers,
                job.targets_celsius,
                job.soak,
                job.stop_point_delay,
            )
        })
        .collect();
    insta::assert_debug_snapshot!(jobs);
}

#[test]
fn a_scenario_without_the_keys_has_the_defaults_the_documents_name() {
    let scenario = Scenario::parse("my.toml", WHOLE).unwrap();
    let room = RoomPlan {
        celsius: 22.0,
        swing_celsius: 0.0,
        warmest_at_s: 25_200.0,
    };
    assert_eq!(scenario.room, room);
    assert_eq!(scenario.up_time_at_start_s, 3600);
    // 2026-01-05T08:00:00Z; by `date -u -d 2026-01-05T08:00:00Z +%s`.
    assert!((scenario.clock_at_start_unix_s - 1_767_600_000.0).abs() < 1e-6);
    let job = &scenario.jobs[0];
    assert_eq!(job.start, Start::At(Tick(300)));
    assert_eq!(
        job.program,
        Program::Duration {
            ticks: Tick(27_000),
            layers: 100
        }
    );
    assert_eq!((job.soak, job.stop_point_delay), (Tick(0), Tick(0)));
    let exact = EstimatePlan {
        by: Estimator::Exact,
        unknown_for: Tick(0),
        bias: 1.0,
    };
    assert_eq!(job.estimate, exact);
    assert_eq!(job.progress.by, ProgressMeasure::Time);
    assert!((job.progress.full_at_percent - 100.0).abs() < 1e-9);
    assert!(job.progress.falls_back_percent.abs() < 1e-9 && job.progress.stalls.is_empty());
    assert!(matches!(
        scenario.heaters["extruder"].sensor.element,
        Element::Ideal(_)
    ));
}

#[test]
fn everything_starts_at_the_rooms_temperature_of_that_moment() {
    let text = with(
        WHOLE,
        "length = \"10m\"",
        "length = \"10m\"\nroom-celsius = 20\nroom-swing-celsius = 6\nroom-warmest-at = \"4h\"",
    );
    let scenario = Scenario::parse("my.toml", &text).unwrap();
    // Four hours before its warmest: 20 + 6 cos(60 degrees) = 23.
    for heater in scenario.heaters.values() {
        assert!((heater.spec.start_celsius - 23.0).abs() < 1e-9);
    }
}

#[test]
fn the_tight_simc_rule_on_the_desk_printer_gives_the_gains_its_file_has() {
    // Source: Skogestad 2003, tauc = theta: 166.67/(8.333 x 8) = 2.5 W/K, 4 x 8 = 32 s.
    let written = extruder("noise-celsius = 0.1", "noise-celsius = 0.1");
    let tuned = extruder(
        "gain-watts-per-kelvin = 2.5, integral-time = \"32s\"",
        "tuning = \"simc-pi\"",
    );
    let (super::super::ControlPlan::Pid(written), super::super::ControlPlan::Pid(tuned)) =
        (written.control, tuned.control)
    else {
        panic!("both are pid");
    };
    assert!((written.gain_watts_per_kelvin - tuned.gain_watts_per_kelvin).abs() < 1e-9);
    assert!((written.integral_time_s - tuned.integral_time_s).abs() < 1e-9);
}

#[test]
fn a_host_with_the_bare_beta_formula_over_reads_a_hot_nozzle() {
    let plan = extruder(
        "dead-time = \"4s\"",
        "sensor = { element = \"ntc-3950\", conversion = \"ntc-beta\", adc-bits = 16 }",
    );
    let setup = crate::sim::sensor::SensorSetup {
        noise_sd_kelvin: 0.0,
        ..plan.sensor
    };
    let shown = SensorChain::new(setup, 1, 0)
        .unwrap()
        .read(200.0, 0)
        .celsius()
        .unwrap();
    // Source: computed from the maker's table (AMF58-104G3950) with B = 3950: 200 C is shown as 215.1.
    assert!((shown - 215.1).abs() < 0.1, "{shown}");
}

#[test]
fn a_heater_without_protection_keys_keeps_the_bounds_of_the_first_version() {
    let rules = extruder("noise-celsius = 0.1", "noise-celsius = 0.1").protection;
    assert!((rules.above_maximum.unwrap().maximum_celsius - 305.0).abs() < 1e-9);
    let fallen = rules.fallen_away.unwrap();
    assert!((fallen.below_target_kelvin - 15.0).abs() < 1e-9);
    assert_eq!(fallen.period.as_secs(), 45);
    let slow = rules.heating_too_slow.unwrap();
    assert!((slow.rise_kelvin - 2.0).abs() < 1e-9);
    assert_eq!(slow.period.as_secs(), 60);
}

#[test]
fn a_small_fall_takes_the_window_of_what_counts_as_reached_with_it() {
    for keys in ["fall-celsius = 1", "fallen-away = { below-celsius = 1 }"] {
        let keys = format!("noise-celsius = 0.1\nprotection = {{ {keys} }}");
        let rules = extruder("noise-celsius = 0.1", &keys).protection;
        assert!((rules.fallen_away.unwrap().reached_within_kelvin - 1.0).abs() < 1e-9);
    }
}

#[test]
fn a_delay_after_a_fixed_time_is_another_fixed_time() {
    let scenario = every_key();
    let fixed: Vec<u64> = scenario
        .events
        .iter()
        .filter_map(|event| match event.when {
            When::At(at) => {
                assert_eq!(event.delay, Tick(0));
                Some(at.0)
            }
            _ => None,
        })
        .collect();
    assert!(fixed.is_sorted());
    assert!(fixed.contains(&3600), "1m and a delay of 5m");
}

#[test]
fn a_moment_is_the_same_with_and_without_quotes() {
    let at = |moment: &str| {
        let text = with(
            WHOLE,
            "length = \"10m\"",
            &format!("length = \"10m\"\nclock-at-start = {moment}"),
        );
        Scenario::parse("my.toml", &text)
            .unwrap()
            .clock_at_start_unix_s
    };
    let (bare, quoted) = (
        at("2026-03-29T01:30:00+01:00"),
        at("\"2026-03-29T00:30:00Z\""),
    );
    assert!((bare - quoted).abs() < 1e-6);
}

#[test]
fn a_job_after_another_may_stand_between_jobs_at_fixed_times() {
    let more = "\n[[job]]\nname = \"second\"\nafter-previous = \"20s\"\nduration = \"1m\"\n\
        [[job]]\nname = \"third\"\nat = \"31s\"\nduration = \"1m\"\n";
    let scenario = Scenario::parse("my.toml", &format!("{WHOLE}{more}")).unwrap();
    let starts: Vec<Start> = scenario.jobs.iter().map(|job| job.start).collect();
    assert_eq!(
        starts,
        [
            Start::At(Tick(300)),
            Start::AfterPrevious(Tick(200)),
            Start::At(Tick(310))
        ]
    );
}
