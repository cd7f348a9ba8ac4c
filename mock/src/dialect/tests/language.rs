//! What a body may say.

use serde_json::{Value, json};

use super::{shown_at, with_body};
use crate::dialect::render::Rendered;
use crate::dialect::{Dialect, sample};

/// Renders a body with the sample of that number.
fn rendered(body: &str, sample: usize) -> Value {
    let dialect = Dialect::parse("test", &with_body(body)).unwrap();
    let truth = &sample::samples()[sample].truth;
    match dialect.render(&shown_at(&dialect, "/"), truth).unwrap() {
        Rendered::Body(body) => body,
        other => panic!("{other:?}"),
    }
}

const NO_JOB: usize = 0;
const HEATING: usize = 3;
const PRINTING: usize = 4;

#[test]
fn a_lone_expression_keeps_its_type() {
    assert_eq!(
        rendered(
            r#"{"s": "{{ printer.state }}", "n": "{{ printer.up_time_seconds }}",
                "l": "{{ printer.reasons }}", "b": "{{ heaters.chamber.on }}",
                "null": "{{ job }}", "o": "{{ {'a': 1} }}", "f": "{{ at }}"}"#,
            NO_JOB
        ),
        json!({"s": "idle", "n": 601, "l": [], "b": false, "null": null, "o": {"a": 1},
               "f": 600.1})
    );
}

#[test]
fn an_expression_inside_text_makes_a_string() {
    assert_eq!(
        rendered(
            r#"["{{ heaters.extruder.actual_celsius | round(1) }} C", "{{ job }}/{{ true }}",
                "{{ '{{' }} plain }}"]"#,
            NO_JOB
        ),
        json!(["210.0 C", "null/true", "{{ plain }}"])
    );
}

#[test]
fn words_are_looked_up_in_the_files_tables() {
    let body = r#""{{ words.state[printer.state] }}""#;
    assert_eq!(rendered(body, NO_JOB), "Ready");
    assert_eq!(rendered(body, PRINTING), "Busy");
}

#[test]
fn a_choice_merges_among_other_members_and_else_takes_their_place() {
    let body = r#"{"first": 1,
        "{% if phase == 'heating' %}": {"warm": true},
        "{% elif job %}": {"busy": true},
        "{% else %}": {"free": true, "bored": true},
        "last": {"{% if job %}": "{{ job.id }}", "{% else %}": null}}"#;
    assert_eq!(
        rendered(body, NO_JOB).to_string(),
        r#"{"first":1,"free":true,"bored":true,"last":null}"#
    );
    assert_eq!(
        rendered(body, HEATING).to_string(),
        r#"{"first":1,"warm":true,"last":7}"#
    );
    assert_eq!(
        rendered(body, PRINTING).to_string(),
        r#"{"first":1,"busy":true,"last":7}"#
    );
}

#[test]
fn a_choice_of_nothing_leaves_its_member_or_element_out() {
    let body = r#"{"a": {"{% if job %}": 1}, "b": [0, {"{% if job %}": 1}, 2]}"#;
    assert_eq!(rendered(body, NO_JOB), json!({"b": [0, 2]}));
    assert_eq!(rendered(body, PRINTING), json!({"a": 1, "b": [0, 1, 2]}));
    assert_eq!(rendered(r#"{"{% if job %}": 1}"#, NO_JOB), json!(null));
}

#[test]
fn two_choices_in_one_object_each_have_their_else() {
    let body = r#"{"{% if job %}": {"a": 1}, "{% else %}": {"a": 2},
                   "{% if phase == 'idle' %}": {"b": 1}, "{% else %}": {"b": 2}}"#;
    assert_eq!(rendered(body, NO_JOB), json!({"a": 2, "b": 1}));
    assert_eq!(rendered(body, PRINTING), json!({"a": 1, "b": 2}));
}

#[test]
fn a_loop_makes_members_in_an_object_and_elements_in_an_array() {
    let body = r#"{
        "by-name": {"{% for name, h in heaters | items %}": {"{{ name }}-on": "{{ h.on }}"}},
        "list": [{"{% for name in heaters %}": "{{ name }}"}, "end"],
        "some": [{"{% for name, h in heaters | items %}": {"{% if h.on %}": {"n": "{{ name }}"}}}]
    }"#;
    assert_eq!(
        rendered(body, PRINTING).to_string(),
        r#"{"by-name":{"extruder-on":true,"platform-on":true,"chamber-on":false},"list":["extruder","platform","chamber","end"],"some":[{"n":"extruder"},{"n":"platform"}]}"#
    );
}

#[test]
fn a_bound_name_hides_an_outer_one_only_inside() {
    let body = r#"{"{% with phase = 1 %}": {"inside": "{{ phase }}"}, "outside": "{{ phase }}"}"#;
    assert_eq!(
        rendered(body, PRINTING),
        json!({"inside": 1, "outside": "printing"})
    );
}

#[test]
fn literals_and_the_order_of_members_stay_as_written() {
    let body = r#"{"z": 1, "a": [true, null, -0.5, "x"], "m": {}, "e": []}"#;
    assert_eq!(
        rendered(body, NO_JOB).to_string(),
        r#"{"z":1,"a":[true,null,-0.5,"x"],"m":{},"e":[]}"#
    );
}

#[test]
fn a_body_without_end_is_an_error_not_a_full_memory() {
    let rows = r#"[{"{% for a in range(3000) %}": [{"{% for b in range(3000) %}": 0}]}]"#;
    let error = Dialect::parse("test", &with_body(rows)).unwrap_err();
    assert!(error.to_string().contains("larger than"), "{error}");
}
