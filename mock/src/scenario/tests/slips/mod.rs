//! What is said about slips: file, line, field, value, what is allowed, what was meant.

mod printer;
mod timeline;

use std::fmt::Write as _;

use super::super::Scenario;
use super::{CLIP, EVERY_KEY, Shelf, WHOLE, with};

/// Collects what is said about each text; none of them may be read.
#[track_caller]
fn told(slips: &[(&str, String)]) -> String {
    let shelf = Shelf(&[("parts/clip.gcode", CLIP)]);
    let mut told = String::new();
    for (slip, text) in slips {
        match Scenario::load("my.toml", text, &shelf) {
            Ok(_) => panic!("{slip} is let through"),
            Err(error) => writeln!(told, "{slip}\n    {error}").unwrap(),
        }
    }
    told
}

fn whole(replace: &str, by: &str) -> String {
    with(WHOLE, replace, by)
}

fn every(replace: &str, by: &str) -> String {
    with(EVERY_KEY, replace, by)
}

/// Puts lines at the top of the whole scenario, where keys without a table stand.
fn top(lines: &str) -> String {
    whole("length = \"10m\"", &format!("length = \"10m\"\n{lines}"))
}

/// Gives the extruder of the whole scenario more keys.
fn extruder(lines: &str) -> String {
    whole(
        "dead-time = \"4s\"",
        &format!("dead-time = \"4s\"\n{lines}"),
    )
}

fn events(lines: &str) -> String {
    format!("{WHOLE}\n[[event]]\n{lines}\n")
}

#[test]
fn every_slip_is_told_with_file_line_field_value_and_what_was_meant() {
    let told = told(&[
        (
            "a key misspelt",
            whole("power-watts = 40", "powr-watts = 40"),
        ),
        (
            "a key of another program",
            whole("power-watts = 40", "wattage = 40"),
        ),
        ("a word misspelt", whole("\"on-off\"", "\"onoff\"")),
        (
            "a temperature in Fahrenheit",
            whole("max-celsius = 290", "max-celsius = \"554 F\""),
        ),
        ("a duration without a unit", whole("\"45m\"", "45")),
        ("a duration that is none", whole("\"45m\"", "\"a while\"")),
        (
            "a target beyond the heater's limit",
            whole("extruder = 210", "extruder = 410"),
        ),
        (
            "a limit below the room",
            top("room-celsius = 21").replace("max-celsius = 120", "max-celsius = 15"),
        ),
        (
            "a heater that is not there",
            whole("platform = 60", "platfrom = 60"),
        ),
        ("a negative length", whole("\"10m\"", "\"-10m\"")),
        ("a missing key", whole("length = \"10m\"\n", "")),
        (
            "a key of the other method",
            whole("integral-time = \"32s\"", "hysteresis-celsius = 3"),
        ),
        (
            "a key that the method needs",
            whole(", integral-time = \"32s\"", ""),
        ),
        (
            "an integral time shorter than the control period",
            whole("\"32s\"", "\"10ms\""),
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
    ]);
    insta::assert_snapshot!(told);
}
