use serde_json::Value;

use super::*;

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../schemas/report.schema.json");

fn errors(report: &Value) -> Vec<String> {
    let validator = jsonschema::draft202012::new(&schema()).unwrap();
    let errors = validator.iter_errors(report);
    errors
        .map(|error| format!("{}: {error}", error.instance_path))
        .collect()
}

#[test]
fn the_schema_of_the_report_is_what_the_code_writes() {
    let fresh = format!("{:#}\n", schema());
    if std::env::var_os("COLDBED_REFRESH").is_some() {
        std::fs::write(FILE, &fresh).unwrap();
    }
    let kept = std::fs::read_to_string(FILE).unwrap_or_default();
    assert!(
        kept == fresh,
        "schemas/report.schema.json is not fresh; refresh it with\n\
         COLDBED_REFRESH=1 cargo test -p coldbed the_schema_of_the_report_is_what_the_code_writes"
    );
}

#[test]
fn a_report_is_valid_by_its_schema_and_a_misspelt_one_is_not() {
    let text = json(&report(&results("odd\u{1b}")));
    let value: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(errors(&value), [""; 0]);
    for (replace, by) in [
        ("\"level\": \"must\"", "\"level\": \"may\""),
        ("\"at-seconds\": 7.5", "\"at-seconds\": \"7.5 s\""),
        ("\"checks\":", "\"cheques\":"),
    ] {
        let wrong: Value = serde_json::from_str(&text.replacen(replace, by, 1)).unwrap();
        assert_ne!(wrong, value, "{replace}");
        assert_ne!(errors(&wrong), [""; 0], "{by}");
    }
}

#[test]
fn the_report_is_read_back_as_it_was_written() {
    let written = report(&results("phase printing"));
    let read: Report = serde_json::from_str(&json(&written)).unwrap();
    assert_eq!(read, written);
}

#[test]
fn the_report_holds_notes_and_violations_whole() {
    let text = json(&report(&results("phase\u{1b} printing")));
    insta::assert_snapshot!(text);
}
