//! What a file takes from the one it includes, and what is said when that goes wrong.

use super::super::{ControlPlan, Program, Scenario};
use super::{CLIP, Shelf, WHOLE};

/// Reads `my.toml` with other files beside it.
fn load(text: &str, others: &[(&str, &str)]) -> Result<Scenario, String> {
    Scenario::load("my.toml", text, &Shelf(others)).map_err(|error| error.to_string())
}

#[track_caller]
fn said(text: &str, others: &[(&str, &str)]) -> String {
    load(text, others).expect_err("it is wrong")
}

#[test]
fn a_file_that_only_includes_is_the_included_one_under_another_name() {
    let mut copy = Scenario::builtin("printing").unwrap().unwrap();
    copy.name = "my.toml".to_owned();
    assert_eq!(load("include = \"printing\"", &[]), Ok(copy));
}

#[test]
fn keys_of_the_file_win_and_the_others_stay() {
    let text = "include = \"base.toml\"\nlength = \"2h\"\n[heaters.extruder]\npower-watts = 30\n";
    let scenario = load(text, &[("base.toml", WHOLE)]).unwrap();
    let base = Scenario::parse("base.toml", WHOLE).unwrap();
    assert_eq!(scenario.length.0, 72_000);
    assert_eq!(scenario.title, base.title);
    let (mine, theirs) = (&scenario.heaters["extruder"], &base.heaters["extruder"]);
    assert!((mine.spec.max_watts - 30.0).abs() < 1e-9);
    assert_eq!(
        mine.spec.dead_time_s.to_bits(),
        theirs.spec.dead_time_s.to_bits()
    );
    assert_eq!(scenario.heaters["platform"], base.heaters["platform"]);
}

#[test]
fn heaters_of_the_included_file_come_first_and_new_ones_behind() {
    let chamber = "include = \"desk-printer\"\ntitle = \"x\"\nlength = \"1m\"\n[heaters.chamber]\nkind = \"chamber\"\n\
        heat-capacity-joules-per-kelvin = 9000\nloss-watts-per-kelvin = 2\npower-watts = 0\nmax-celsius = 70\n\
        control = { method = \"on-off\", hysteresis-celsius = 1 }\n[heaters.extruder]\npower-watts = 30\n";
    let scenario = load(chamber, &[]).unwrap();
    assert!(
        scenario
            .heaters
            .keys()
            .eq(["extruder", "platform", "chamber"])
    );
}

#[test]
fn control_that_names_its_method_replaces_the_included_one_whole() {
    let text = "include = \"base.toml\"\n[heaters.extruder]\ncontrol = { method = \"on-off\", hysteresis-celsius = 3 }\n";
    let scenario = load(text, &[("base.toml", WHOLE)]).unwrap();
    let control = scenario.heaters["extruder"].control;
    assert!(
        matches!(control, ControlPlan::OnOff { hysteresis_celsius } if (hysteresis_celsius - 3.0).abs() < 1e-9)
    );
}

#[test]
fn control_that_does_not_name_its_method_changes_what_it_names() {
    let text = "include = \"base.toml\"\n[heaters.extruder.control]\ngain-watts-per-kelvin = 4\n";
    let scenario = load(text, &[("base.toml", WHOLE)]).unwrap();
    let ControlPlan::Pid(settings) = scenario.heaters["extruder"].control else {
        panic!("it is still pid");
    };
    assert!((settings.gain_watts_per_kelvin - 4.0).abs() < 1e-9);
    assert!((settings.integral_time_s - 32.0).abs() < 1e-9);
}

#[test]
fn a_rule_can_be_switched_off_below_and_on_again_above() {
    let off = "include = \"whole.toml\"\n[heaters.extruder.protection]\njump = false\n".to_owned();
    let on =
        "include = \"off.toml\"\n[heaters.extruder.protection]\njump = { change-celsius = 50 }\n";
    let others = [("whole.toml", WHOLE), ("off.toml", off.as_str())];
    let rules = |text| load(text, &others).unwrap().heaters["extruder"].protection;
    assert!(rules(off.as_str()).jump.is_none());
    assert!(rules(on).jump.is_some());
}

#[test]
fn jobs_and_events_replace_those_of_the_included_file() {
    let job = "include = \"paused\"\n[[job]]\nname = \"mine\"\nat = \"2m\"\nduration = \"5m\"\n";
    let scenario = load(job, &[]).unwrap();
    assert_eq!(scenario.jobs.len(), 1);
    assert_eq!(scenario.jobs[0].name, "mine");
    assert_eq!(
        scenario.events.len(),
        2,
        "events are not named, so they stay"
    );
    let none = load("include = \"paused\"\nevent = []\n", &[]).unwrap();
    assert!(none.events.is_empty());
}

#[test]
fn a_file_is_found_beside_the_one_that_names_it() {
    let others = [
        (
            "parts/mid.toml",
            "include = \"../base.toml\"\nlength = \"1h\"\n",
        ),
        ("parts/../base.toml", WHOLE),
    ];
    let scenario = load("include = \"parts/mid.toml\"", &others).unwrap();
    assert_eq!(scenario.length.0, 36_000);
}

#[test]
fn a_program_is_found_beside_the_file_that_names_it() {
    let base = WHOLE.replace(
        "duration = \"45m\"",
        "program = \"clip.gcode\"\non-broken-line = \"skip\"",
    );
    let others = [
        ("parts/base.toml", base.as_str()),
        ("parts/clip.gcode", CLIP),
    ];
    let scenario = load("include = \"parts/base.toml\"", &others).unwrap();
    assert!(matches!(scenario.jobs[0].program, Program::Planned(_)));
}

#[test]
fn an_error_names_the_file_it_is_in() {
    let base = WHOLE.replace("power-watts = 40", "power-watts = -40");
    assert_eq!(
        said(
            "# mine\ninclude = \"parts/base.toml\"",
            &[("parts/base.toml", &base)]
        ),
        "parts/base.toml:8: heaters.extruder.power-watts: -40 W is outside 0 to 5000 W"
    );
    let mine = "include = \"base.toml\"\n\n[heaters.extruder]\npower-watts = -30\n";
    assert_eq!(
        said(mine, &[("base.toml", WHOLE)]),
        "my.toml:4: heaters.extruder.power-watts: -30 W is outside 0 to 5000 W"
    );
}

#[test]
fn an_included_value_that_no_longer_fits_is_told_where_it_stands() {
    let mine = "include = \"base.toml\"\n[heaters.extruder]\nmax-celsius = 200\n";
    assert_eq!(
        said(mine, &[("base.toml", WHOLE)]),
        "base.toml:28: job[0].targets-celsius.extruder: 210 C is outside 0 to 200 C"
    );
}

#[test]
fn a_key_missing_from_all_files_is_missed_in_the_authors_own() {
    let mine = "include = \"desk-printer\"\ntitle = \"x\"\n";
    assert_eq!(said(mine, &[]), "my.toml:1: missing field `length`");
}

#[test]
fn broken_toml_in_an_included_file_is_told_there() {
    let told = said(
        "include = \"base.toml\"",
        &[("base.toml", "title = \"x\"\nlength = \n")],
    );
    assert!(told.starts_with("base.toml:2: "), "{told}");
}

#[test]
fn a_file_that_is_not_there_is_told_with_its_path_and_a_near_miss() {
    assert_eq!(
        said("title = \"x\"\ninclude = \"desk-priner\"", &[]),
        "my.toml:2: include: `desk-priner` cannot be read: no such file [did you mean `desk-printer`?]"
    );
    let none = Scenario::parse("my.toml", "include = \"base.toml\"").unwrap_err();
    assert_eq!(
        none.to_string(),
        "my.toml:1: include: `base.toml` cannot be read: no files can be read here"
    );
}

#[test]
fn an_include_that_is_no_name_is_refused() {
    assert_eq!(
        said("include = [\"desk-printer\"]", &[]),
        "my.toml:1: include: must be the name of a built-in or of a file, in quotes"
    );
}

#[test]
fn files_that_include_each_other_are_refused_with_the_way_round() {
    let others = [
        ("a.toml", "\ninclude = \"b.toml\""),
        ("b.toml", "include = \"a.toml\""),
    ];
    assert_eq!(
        said("include = \"a.toml\"", &others),
        "b.toml:1: include: goes round in a circle [my.toml -> a.toml -> b.toml -> a.toml]"
    );
    assert_eq!(
        said("include = \"my.toml\"", &[("my.toml", "")]),
        "my.toml:1: include: goes round in a circle [my.toml -> my.toml]"
    );
}

#[test]
fn a_chain_of_eight_files_is_read_and_one_of_nine_is_not() {
    let texts: Vec<(String, String)> = (1..8)
        .map(|depth| {
            (
                format!("{depth}.toml"),
                format!("include = \"{}.toml\"", depth + 1),
            )
        })
        .collect();
    let mut others: Vec<(&str, &str)> = texts
        .iter()
        .map(|(name, text)| (name.as_str(), text.as_str()))
        .collect();
    let last = others.len() - 1;
    others.push(("8.toml", WHOLE));
    assert_eq!(
        said("include = \"1.toml\"", &others),
        "7.toml:1: include: more than 8 files deep"
    );
    others[last].1 = WHOLE;
    assert!(load("include = \"1.toml\"", &others).is_ok());
}

#[test]
fn a_mark_at_the_start_of_a_file_is_no_text() {
    let base = format!("\u{feff}{WHOLE}");
    assert!(load("\u{feff}include = \"base.toml\"", &[("base.toml", &base)]).is_ok());
}

#[test]
fn a_file_that_is_far_too_long_for_a_scenario_is_not_read() {
    let long = "#".repeat(2 << 20);
    let told = said("include = \"base.toml\"", &[("base.toml", &long)]);
    assert!(told.ends_with("it is longer than 1 MiB"), "{told}");
}
