use std::fmt::Write as _;

use proptest::prelude::*;

use super::{BUILTIN, Scenario};

/// Gives the heat-up scenario with one piece of text replaced; the piece must be there.
fn heat_up_with(replace: &str, with: &str) -> String {
    let text = BUILTIN[0].1;
    assert_eq!(
        text.matches(replace).count(),
        1,
        "`{replace}` is there once"
    );
    text.replace(replace, with)
}

#[test]
fn every_built_in_scenario_is_sound() {
    for (name, text) in BUILTIN {
        let scenario = Scenario::parse(name, text).unwrap();
        assert!(
            !scenario.title.is_empty() && !scenario.title.ends_with('.'),
            "{name}"
        );
    }
}

#[test]
fn every_slip_is_told_with_file_line_field_value_and_what_was_meant() {
    let events = |lines: &str| format!("{}\n[[event]]\n{lines}\n", BUILTIN[0].1);
    let slips = [
        (
            "a key misspelt",
            heat_up_with("power-watts = 40", "powr-watts = 40"),
        ),
        (
            "a key of another program",
            heat_up_with("power-watts = 40", "wattage = 40"),
        ),
        ("a word misspelt", heat_up_with("\"on-off\"", "\"onoff\"")),
        (
            "a temperature in Fahrenheit",
            heat_up_with("max-celsius = 290", "max-celsius = \"554 F\""),
        ),
        ("a duration without a unit", heat_up_with("\"45m\"", "45")),
        (
            "a duration that is none",
            heat_up_with("\"45m\"", "\"a while\""),
        ),
        (
            "a target beyond the heater's limit",
            heat_up_with("extruder = 210", "extruder = 410"),
        ),
        (
            "a limit below the room",
            heat_up_with("length = \"10m\"", "length = \"10m\"\nroom-celsius = 21")
                .replace("max-celsius = 120", "max-celsius = 15"),
        ),
        (
            "a heater that is not there",
            heat_up_with("platform = 60", "platfrom = 60"),
        ),
        ("a negative length", heat_up_with("\"10m\"", "\"-10m\"")),
        ("a missing key", heat_up_with("length = \"10m\"\n", "")),
        (
            "a key of the other method",
            heat_up_with("integral-time = \"32s\"", "hysteresis-celsius = 3"),
        ),
        (
            "a key that the method needs",
            heat_up_with(", integral-time = \"32s\"", ""),
        ),
        (
            "an integral time shorter than the control period",
            heat_up_with("\"32s\"", "\"10ms\""),
        ),
        (
            "times out of order",
            events("at = \"5m\"\naction = \"pause\"\n[[event]]\nat = \"4m\"\naction = \"resume\""),
        ),
        (
            "a key that the action does not take",
            events("at = \"5m\"\naction = \"pause\"\nheater = \"extruder\""),
        ),
        (
            "a key that the action needs",
            events("at = \"5m\"\naction = \"heater-fails\""),
        ),
        ("no TOML at all", "title = ".to_owned()),
        ("an empty file", String::new()),
    ];
    let mut told = String::new();
    for (slip, text) in slips {
        let error = Scenario::parse("my.toml", &text).expect_err(slip);
        writeln!(told, "{slip}\n    {error}").unwrap();
    }
    insta::assert_snapshot!(told);
}

proptest! {
    #[test]
    fn no_text_whatever_makes_the_reader_panic(text in "\\PC*") {
        let _ = Scenario::parse("any.toml", &text);
    }

    #[test]
    fn a_scenario_with_a_line_changed_is_read_or_refused_and_what_is_read_can_be_simulated(
        index in 0..BUILTIN.len(),
        line in any::<prop::sample::Index>(),
        value in prop_oneof![
            any::<f64>().prop_map(|number| format!("{number:?}")),
            (-1e4..1e4_f64).prop_map(|number| format!("{number:.3}")),
            (0_u32..100_000).prop_map(|seconds| format!("\"{seconds}s\"")),
            Just("\"\"".to_owned()),
            Just("[]".to_owned()),
        ],
    ) {
        let lines: Vec<&str> = BUILTIN[index].1.lines().collect();
        let at = line.index(lines.len());
        let changed: Vec<String> = lines
            .iter()
            .enumerate()
            .map(|(number, line)| match line.split_once(" = ") {
                Some((key, _)) if number == at => format!("{key} = {value}"),
                _ => (*line).to_owned(),
            })
            .collect();
        if let Ok(scenario) = Scenario::parse("changed.toml", &changed.join("\n")) {
            let mut printer = crate::sim::Simulation::new(std::sync::Arc::new(scenario), 1);
            let truth = printer.truth_at(crate::sim::Tick(3000).start());
            prop_assert!(truth.heaters.values().all(|heater| heater.true_celsius.is_finite()));
        }
    }
}
