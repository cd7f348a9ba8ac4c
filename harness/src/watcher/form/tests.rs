use std::sync::Arc;

use coldbed_mock::sim::Phase;
use indexmap::IndexMap;
use proptest::prelude::*;

use super::{Reader, Reading};
use crate::watcher::{Claim, HeaterSighting, PhaseClaim, Sighting, WatcherFile};

/// Reads lines with what a file says under `[sightings]`, and gives what was made of the last.
fn read(file: &str, lines: &[&str]) -> Reading {
    let file = WatcherFile::parse("watcher.toml", file).unwrap_or_else(|error| panic!("{error}"));
    let mut reader = Reader::new(Arc::clone(file.form()));
    let mut last = Reading::default();
    for line in lines {
        last = reader.read(line);
    }
    last
}

fn seen(file: &str, lines: &[&str]) -> Sighting {
    read(file, lines).sighting.expect("a sighting")
}

const JSON: &str = r#"
command = ["show"]
[sightings]
lines = "json"
unknown = ["--"]
[sightings.fields]
phase = "/state"
progress-percent = { at = "/part", unit = "ratio", unknown = [-1] }
remaining-seconds = { at = "/left", unit = "h:mm:ss" }
job-name = "/file"
[sightings.heaters.extruder]
actual-celsius = { at = "/nozzle/now", unit = "fahrenheit" }
on = { at = "/nozzle/lamp", words = { true = ["lit"], false = ["dark"] } }
[sightings.words]
printing = ["PRINT", 2]
unknown = ["OFFLINE"]
"#;

const TEXT: &str = r#"
command = ["show"]
[sightings.lines]
patterns = [
  '^state (?<state>\w+)$',
  '^nozzle (?<now>\S+) of (?<aim>\S+)$',
  '^left(?: (?<left>\d+) min)?$',
]
[sightings.fields]
phase = "state"
remaining-seconds = { at = "left", unit = "minutes" }
[sightings.heaters.extruder]
actual-celsius = "now"
target-celsius = "aim"
"#;

#[test]
fn a_json_line_is_read_by_pointers_with_units_and_own_words() {
    let line = r#"{"state":"PRINT","part":0.25,"left":"1:00:30","file":"hook",
        "nozzle":{"now":410,"lamp":"lit"}}"#;
    let seen = seen(JSON, &[line]);
    assert_eq!(seen.phase, Claim::Value(PhaseClaim::Known(Phase::Printing)));
    assert_eq!(seen.progress_percent, Claim::Value(25.0));
    assert_eq!(seen.remaining_seconds, Claim::Value(3630.0));
    assert_eq!(seen.job_name, Claim::Value("hook".to_owned()));
    let extruder = &seen.heaters["extruder"];
    assert_eq!(extruder.actual_celsius, Claim::Value(210.0));
    assert_eq!(extruder.on, Claim::Value(true));
    assert_eq!(extruder.target_celsius, Claim::NotReported);
    assert_eq!(seen.elapsed_seconds, Claim::NotReported);
}

#[test]
fn null_the_words_for_it_and_a_missing_place_all_say_unknown() {
    let line = r#"{"state":2,"part":-1,"left":"--","file":null}"#;
    let reading = read(JSON, &[line]);
    let seen = reading.sighting.expect("a sighting");
    assert_eq!(seen.phase, Claim::Value(PhaseClaim::Known(Phase::Printing)));
    assert_eq!(seen.progress_percent, Claim::Unknown);
    assert_eq!(seen.remaining_seconds, Claim::Unknown);
    assert_eq!(seen.job_name, Claim::Unknown);
    assert_eq!(seen.heaters["extruder"].actual_celsius, Claim::Unknown);
    let problems: Vec<&str> = reading
        .findings
        .iter()
        .filter_map(|finding| finding.problem.as_deref())
        .collect();
    assert_eq!(
        problems,
        ["`/nozzle/now` is not there", "`/nozzle/lamp` is not there"]
    );
}

#[test]
fn a_phase_without_own_words_keeps_its_own_word() {
    let phase = |line: &str| seen(JSON, &[line]).phase;
    assert_eq!(
        phase(r#"{"state":"idle"}"#),
        Claim::Value(PhaseClaim::Known(Phase::Idle))
    );
    // `printing` has other words here, so its own is none.
    assert_eq!(
        phase(r#"{"state":"printing"}"#),
        Claim::Value(PhaseClaim::Other("printing".to_owned()))
    );
    assert_eq!(phase(r#"{"state":"OFFLINE"}"#), Claim::Unknown);
}

#[test]
fn a_json_line_with_none_of_the_places_is_no_sighting() {
    for (line, why) in [
        (r#"{"level":"info"}"#, "nothing that is looked for is in it"),
        ("[1]", "no JSON object"),
    ] {
        let reading = read(JSON, &[line]);
        assert_eq!(reading.sighting, None);
        assert_eq!(reading.why_none(), why);
    }
    assert!(read(JSON, &["booting"]).why_none().starts_with("no JSON:"));
}

#[test]
fn a_line_with_one_quantity_changes_only_that_one() {
    let lines = ["state printing", "nozzle 209.5 of 210", "left 12 min"];
    let seen = seen(TEXT, &lines);
    assert_eq!(seen.phase, Claim::Value(PhaseClaim::Known(Phase::Printing)));
    assert_eq!(seen.heaters["extruder"].actual_celsius, Claim::Value(209.5));
    assert_eq!(seen.heaters["extruder"].target_celsius, Claim::Value(210.0));
    assert_eq!(seen.remaining_seconds, Claim::Value(720.0));
}

#[test]
fn a_group_that_took_no_part_says_unknown_and_a_line_that_does_not_match_nothing() {
    let lines = ["nozzle 20 of 0", "left 12 min", "left", "booting"];
    assert_eq!(read(TEXT, &lines).why_none(), "no pattern matches");
    let seen = seen(TEXT, &lines[..3]);
    assert_eq!(seen.remaining_seconds, Claim::Unknown);
    assert_eq!(seen.heaters["extruder"].actual_celsius, Claim::Value(20.0));
}

#[test]
fn a_phase_that_is_unknown_takes_back_what_stood() {
    let lines = ["nozzle 209.5 of 210", "state unknown"];
    let seen_unknown = seen(TEXT, &lines);
    assert_eq!(seen_unknown.phase, Claim::Unknown);
    let extruder = &seen_unknown.heaters["extruder"];
    assert_eq!(extruder.actual_celsius, Claim::Unknown);
    assert_eq!(seen_unknown.remaining_seconds, Claim::NotReported);
}

#[test]
fn json_lines_that_tell_a_part_each_are_laid_over_each_other_where_the_file_says_so() {
    let parts = JSON.replace("lines = \"json\"", "lines = \"json\"\nmissing = \"stands\"");
    let lines = [r#"{"state":"PRINT"}"#, r#"{"part":0.5}"#];
    let seen = seen(&parts, &lines);
    assert_eq!(seen.phase, Claim::Value(PhaseClaim::Known(Phase::Printing)));
    assert_eq!(seen.progress_percent, Claim::Value(50.0));
    assert_eq!(seen.job_name, Claim::NotReported);
}

#[test]
fn what_is_no_number_is_unknown_and_told() {
    let reading = read(TEXT, &["nozzle hot of 210"]);
    let seen = reading.sighting.expect("a sighting");
    assert_eq!(seen.heaters["extruder"].actual_celsius, Claim::Unknown);
    let problem = reading.findings[0].problem.as_deref();
    assert!(problem.is_some_and(|problem| problem.starts_with("`hot` is no number")));
}

#[test]
fn the_standard_form_is_whole_in_each_line_and_may_have_own_words() {
    let file = "command = [\"x\"]\n[sightings.words]\nprinting = [\"busy\"]\n";
    let lines = [
        r#"{"phase":"idle","progress-percent":3}"#,
        r#"{"phase":"busy"}"#,
    ];
    let seen = seen(file, &lines);
    assert_eq!(seen.phase, Claim::Value(PhaseClaim::Known(Phase::Printing)));
    assert_eq!(seen.progress_percent, Claim::NotReported);
    let strange = read(file, &[r#"{"phase":"idle","progress":3}"#]);
    assert_eq!(
        strange.notes,
        ["member `progress` is none of the standard form"]
    );
}

fn claims<T: std::fmt::Debug + Clone + 'static>(
    value: impl Strategy<Value = T> + 'static,
) -> impl Strategy<Value = Claim<T>> {
    prop_oneof![
        Just(Claim::NotReported),
        Just(Claim::Unknown),
        value.prop_map(Claim::Value),
    ]
}

fn numbers() -> impl Strategy<Value = f64> {
    prop::num::f64::NORMAL | prop::num::f64::ZERO
}

fn heaters() -> impl Strategy<Value = IndexMap<String, HeaterSighting>> {
    let heater = (claims(numbers()), claims(numbers()), claims(any::<bool>()));
    let heater = heater.prop_map(|(actual_celsius, target_celsius, on)| HeaterSighting {
        actual_celsius,
        target_celsius,
        on,
    });
    prop::collection::vec(("[a-z]{1,8}", heater), 0..3)
        .prop_map(|heaters| heaters.into_iter().collect())
}

fn phases() -> impl Strategy<Value = Claim<PhaseClaim>> {
    let known = prop::sample::select(Phase::ALL.to_vec()).prop_map(PhaseClaim::Known);
    let other = "[A-Z ]{1,8}".prop_map(PhaseClaim::Other);
    claims(prop_oneof![known, other])
}

prop_compose! {
    fn sightings()(
        phase in phases(),
        heaters in heaters(),
        progress_percent in claims(numbers()),
        elapsed_seconds in claims(numbers()),
        remaining_seconds in claims(numbers()),
        job_name in claims(".{0,12}"),
        reason in claims(".{0,12}"),
        safe_to_touch in claims(any::<bool>()),
    ) -> Sighting {
        Sighting {
            phase, heaters, progress_percent, elapsed_seconds, remaining_seconds, job_name, reason,
            safe_to_touch,
        }
    }
}

proptest! {
    #[test]
    fn a_sighting_written_in_the_standard_form_is_read_back(sighting in sightings()) {
        let line = sighting.to_line();
        let read = Sighting::from_line(&line);
        if sighting == Sighting::default() {
            prop_assert_eq!(read, None);
        } else {
            prop_assert_eq!(read, Some(sighting), "{}", line);
        }
    }

    #[test]
    fn no_line_is_too_strange_to_be_read(
        line in prop_oneof![
            ".{0,80}",
            r#"\{"(state|part|left|file|nozzle)":.{0,20}\}"#,
            r"(state|nozzle|left) .{0,20}( of .{0,10})?",
        ],
        file in prop::sample::select(vec![JSON, TEXT, "command = [\"x\"]\n"]),
    ) {
        let reading = read(file, &[&line]);
        prop_assert_eq!(reading.sighting.is_none(), reading.findings.is_empty());
    }
}
