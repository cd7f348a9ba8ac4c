//! Claims about any text.

use proptest::prelude::*;
use proptest::sample::Index;
use serde_json::Value;

use super::super::bounds::{Bound, STEINHART_HART};
use super::super::plan::{Action, ControlPlan, Scenario};
use super::super::{BUILTIN, Program, schema};
use super::schema::{accepted_by_schema, as_json};
use super::{EVERY_KEY, EVERY_KEY_SHELF, with};
use crate::sim::Tick;
use crate::sim::control::{OnOff, Pid};
use crate::sim::plant::{HeaterSpec, ThermalNetwork};
use crate::sim::protection::Protection;
use crate::sim::sensor::{Fault, FaultKind, Reading, SensorChain};

/// Builds everything that a simulation is made of, and uses it a little.
fn build(scenario: &Scenario) -> Result<(), TestCaseError> {
    let specs: Vec<HeaterSpec> = scenario.heaters.values().map(|plan| plan.spec).collect();
    let room = specs[0].start_celsius;
    let mut network = ThermalNetwork::new(Tick::PERIOD_S, room, &specs, &scenario.couplings)
        .map_err(|error| TestCaseError::fail(error.to_string()))?;
    let full: Vec<f64> = specs.iter().map(|spec| spec.max_watts).collect();
    for _ in 0..200 {
        network.step_watts(&full);
    }
    for (index, (name, plan)) in (0_u32..).zip(&scenario.heaters) {
        prop_assert!(
            network.sensor_celsius(index as usize).is_finite(),
            "{}",
            name
        );
        match plan.control {
            ControlPlan::OnOff { hysteresis_celsius } => {
                prop_assert!(OnOff::new(hysteresis_celsius).is_ok());
            }
            ControlPlan::Pid(settings) => {
                let mut pid = Pid::new(settings, Tick::PERIOD_S)
                    .map_err(|error| TestCaseError::fail(error.to_string()))?;
                let watts = pid.output_watts(Some(200.0), 20.0, plan.spec.max_watts);
                prop_assert!((0.0..=plan.spec.max_watts).contains(&watts));
            }
        }
        prop_assert!(Protection::new(plan.kind, plan.protection).is_ok());
        sense(plan, index)?;
    }
    for event in &scenario.events {
        if let Action::SensorFails { kind, .. } = event.action {
            prop_assert!(Fault::new(kind, 0, Reading::Celsius(20.0)).is_ok());
        }
    }
    for job in &scenario.jobs {
        prop_assert!(job.estimate.bias.is_finite());
        if let Program::Planned(planned) = &job.program {
            let totals = planned.plan.totals;
            prop_assert!((totals.known_s() + totals.naive_s + totals.filament_mm).is_finite());
        }
    }
    Ok(())
}

fn sense(plan: &super::super::HeaterPlan, index: u32) -> Result<(), TestCaseError> {
    let mut sensor = SensorChain::new(plan.sensor.clone(), 1, index)
        .map_err(|error| TestCaseError::fail(error.to_string()))?;
    let is_number = |reading: Reading| reading.celsius().is_none_or(f64::is_finite);
    for celsius in [-273.0, -40.0, 0.0, 25.0, 210.0, 500.0, 2000.0] {
        prop_assert!(is_number(sensor.read(celsius, 0)), "at {} C", celsius);
    }
    for kind in [FaultKind::Open, FaultKind::Short] {
        sensor.mend(0);
        sensor.add_fault(Fault::new(kind, 0, Reading::Celsius(20.0)).unwrap());
        prop_assert!(is_number(sensor.read(25.0, 1)), "{:?}", kind);
    }
    Ok(())
}

/// Finds where values stand in a text: after `= `, up to what ends a value on its line.
fn values(text: &str) -> Vec<std::ops::Range<usize>> {
    text.match_indices(" = ")
        .map(|(at, equals)| {
            let start = at + equals.len();
            let length = text[start..].find([',', '\n', '}']).unwrap_or(0);
            start..start + length
        })
        .collect()
}

fn any_value() -> impl Strategy<Value = String> {
    prop_oneof![
        any::<f64>().prop_map(|number| format!("{number:?}")),
        (-1e4..1e4_f64).prop_map(|number| format!("{number:.3}")),
        (0.0..1.0_f64).prop_map(|number| format!("{number:.6}")),
        (-10_i64..10_000).prop_map(|number| number.to_string()),
        (0_u32..100_000).prop_map(|seconds| format!("\"{seconds}s\"")),
        (0_u32..2000).prop_map(|ms| format!("\"{ms}ms\"")),
        prop::sample::select(vec![
            "\"\"",
            "[]",
            "{}",
            "false",
            "true",
            "nan",
            "inf",
            "1979-05-27",
            "\"simc-pi\"",
            "\"simc-pid\"",
            "\"ziegler-nichols-pid\"",
            "\"on-off\"",
            "\"pid\"",
            "\"ideal\"",
            "\"ntc-beta\"",
            "\"ntc-steinhart-hart\"",
            "\"pt100\"",
            "\"extruder\"",
            "\"chamber\"",
            "\"desk-printer\"",
            "\"printing\"",
            "\"refuse\"",
            "\"latency\"",
            "{ reset = {} }",
            "\"/job\"",
            "\"reverse-members\"",
        ])
        .prop_map(str::to_owned),
    ]
}

/// Collects the range of every number that the schema knows, by key; a key may have several.
fn ranges(schema: &Value, into: &mut Vec<(String, f64, f64)>) {
    match schema {
        Value::Object(object) => {
            if let Some(Value::Object(properties)) = object.get("properties") {
                for (key, property) in properties {
                    let end = |name: &str| property.get(name).and_then(Value::as_f64);
                    if let (Some(min), Some(max)) = (end("minimum"), end("maximum")) {
                        into.push((key.clone(), min, max));
                    }
                }
            }
            object.values().for_each(|value| ranges(value, into));
        }
        Value::Array(values) => values.iter().for_each(|value| ranges(value, into)),
        _ => {}
    }
}

/// Replaces values of a text, each by one end of its range; durations by very short or long ones.
fn at_an_end(text: &str, changes: &[(Index, bool)]) -> String {
    const SPANS: [&str; 2] = ["\"100ms\"", "\"1m\""];
    let mut known = Vec::new();
    ranges(&schema(), &mut known);
    let mut text = text.to_owned();
    for (at, upper) in changes {
        let places = values(&text);
        let place = places[at.index(places.len())].clone();
        let before = text[..place.start].trim_end_matches(" = ");
        let key = before.rsplit([' ', '\n', '.']).next().unwrap_or(before);
        let ends: Vec<_> = known.iter().filter(|(name, ..)| name == key).collect();
        let end = if text[place.clone()].starts_with('"') {
            SPANS[usize::from(*upper)].to_owned()
        } else if ends.is_empty() {
            continue;
        } else {
            let (_, min, max) = ends[at.index(ends.len())];
            (if *upper { max } else { min }).to_string()
        };
        text.replace_range(place, &end);
    }
    text
}

/// Replaces some values of a text by others.
fn changed(text: &str, changes: &[(Index, String)]) -> String {
    let mut text = text.to_owned();
    for (at, value) in changes {
        let places = values(&text);
        let place = places[at.index(places.len())].clone();
        text.replace_range(place, value);
    }
    text
}

proptest! {
    #[test]
    fn no_text_whatever_makes_the_reader_panic(text in "\\PC*") {
        let _ = Scenario::parse("any.toml", &text);
    }

    #[test]
    fn what_is_read_can_be_built_and_is_what_an_editor_would_allow(
        index in 0..BUILTIN.len() + 1,
        changes in prop::collection::vec((any::<Index>(), any_value()), 1..3),
    ) {
        let text = BUILTIN.get(index).map_or(EVERY_KEY, |(_, text)| text);
        let text = changed(text, &changes);
        if let Ok(scenario) = Scenario::load("dir/changed.toml", &text, &EVERY_KEY_SHELF) {
            build(&scenario)?;
            prop_assert!(accepted_by_schema(&as_json(&text)), "{}", text);
        }
    }

    #[test]
    fn at_the_ends_of_the_ranges_everything_can_still_be_built(
        changes in prop::collection::vec((any::<Index>(), any::<bool>()), 1..8),
    ) {
        let text = at_an_end(EVERY_KEY, &changes);
        if let Ok(scenario) = Scenario::load("dir/changed.toml", &text, &EVERY_KEY_SHELF) {
            build(&scenario)?;
        }
    }

    #[test]
    fn what_is_refused_is_refused_at_a_place(
        changes in prop::collection::vec((any::<Index>(), any_value()), 1..3),
    ) {
        let text = changed(EVERY_KEY, &changes);
        if let Err(error) = Scenario::load("dir/changed.toml", &text, &EVERY_KEY_SHELF) {
            prop_assert!(error.line.is_some(), "{}", error);
            prop_assert!(!error.problem.contains('\n'), "{}", error);
            prop_assert!(!error.to_string().contains("serde"), "{}", error);
        }
    }
}

#[test]
fn a_steinhart_hart_curve_at_the_ends_of_its_ranges_gives_numbers() {
    let [a, b, c] = STEINHART_HART;
    for corner in 0..8 {
        let end = |bound: Bound, bit: u32| {
            if corner >> bit & 1 == 0 {
                bound.min
            } else {
                bound.max
            }
        };
        let coefficients = format!("{:e}, {:e}, {:e}", end(a, 0), end(b, 1), end(c, 2));
        let text = with(EVERY_KEY, "0.00067, 0.00023, 0.00000007", &coefficients);
        build(&Scenario::load("dir/changed.toml", &text, &EVERY_KEY_SHELF).unwrap()).unwrap();
    }
}

#[test]
fn the_file_with_every_key_is_built() {
    let scenario = Scenario::load("dir/every-key.toml", EVERY_KEY, &EVERY_KEY_SHELF).unwrap();
    build(&scenario).unwrap();
}

/// TOML's reader takes an enum's word from a table, too; editors do not allow that by the schema.
#[test]
fn a_word_is_a_text_and_no_table_of_it() {
    let (_, text) = BUILTIN.iter().find(|(name, _)| *name == "jam").unwrap();
    let with = |action: &str| text.replacen("action = \"resume\"", action, 1);
    assert!(Scenario::parse("jam.toml", &with("action = \"reset\"")).is_ok());
    let table = with("action = { reset = {} }");
    assert_ne!(table, *text);
    assert!(Scenario::parse("jam.toml", &table).is_err());
}

/// TOML has numbers that JSON has not, and a drift's end up in JSON.
#[test]
fn a_drift_of_a_scenario_is_held_to_what_any_drift_is_held_to() {
    let (_, text) = BUILTIN
        .iter()
        .find(|(name, _)| *name == "host-changes")
        .unwrap();
    let scaled_by = |factor: &str| {
        let change = format!("change = {{ scale = {{ factor = {factor} }} }}");
        let changed = text.replacen("change = \"reverse-members\"", &change, 1);
        assert_ne!(changed, *text);
        Scenario::parse("changed.toml", &changed)
    };
    assert!(scaled_by("0.01").is_ok());
    for factor in ["nan", "inf"] {
        let error = scaled_by(factor).unwrap_err().to_string();
        assert!(error.contains("drift.change"), "{error}");
    }
}
