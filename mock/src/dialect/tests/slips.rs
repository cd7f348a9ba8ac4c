//! What a dialect file can have wrong, and how it is told.

use super::with_body;
use crate::dialect::Dialect;

const PLAIN: &str = include_str!("../../../dialects/plain.toml");

/// Gives the message for a text.
fn slip(text: &str) -> String {
    match Dialect::parse("my.toml", text) {
        Ok(_) => "no slip found".to_owned(),
        Err(error) => error.to_string(),
    }
}

/// Gives the message for the built-in file with one thing changed.
fn changed(from: &str, to: &str) -> String {
    assert!(PLAIN.contains(from), "nothing to change: {from}");
    slip(&PLAIN.replacen(from, to, 1))
}

#[test]
fn every_slip_is_told_with_file_line_field_and_what_is_allowed() {
    let bodies = [
        r#"{"a": "{{ printer.stat }}"}"#,
        "{\n  \"a\": {\n    \"b~/c\": [1, \"{{ job.id }}\"]\n  }\n}",
        "{\n  \"a\": 1,\n  \"a\": 2\n}",
        "{\n  \"a\": 1,\n}",
        r#"{"{% for a in job %}": {}}"#,
        r#"{"{% for a in phase %}": {}}"#,
        r#"{"{% for a, b in heaters %}": {}}"#,
        r#"{"{% if job %}": 1, "b": 2, "{% else %}": 3}"#,
        r#"{"{% if phase == 'idle' %}": 1, "b": 2}"#,
        r#""{% include 'printr' %}""#,
        r#""{{ job | rond(1) }}""#,
        r#""{{ printer.state | round(1) }}""#,
        r#""{{ words.state[phase] }}""#,
        r#""{% if job %}""#,
        r#"{"{% include 'x' %}": 1}"#,
        r#""{{ [job.nothing] }}""#,
    ]
    .map(|body| slip(&with_body(body)));
    let files = [
        slip("[auth"),
        slip(""),
        changed("scheme = \"bearer\"", "scheme = \"beerer\""),
        changed("realm = \"printer\"", ""),
        changed("realm = \"printer\"", "realm = \"a\\\"b\""),
        changed("method = \"GET\"", "metod = \"GET\""),
        changed("method = \"GET\"", "method = \"get\""),
        changed("method = \"GET\"", "method = \"HEAD\""),
        changed("path = \"/job\"", "path = \"job\""),
        changed("path = \"/job\"", "path = \"/printer\""),
        changed("path = \"/job\"", "path = \"/heaters/{other}\""),
        changed("path = \"/job\"", "path = \"/heaters/{name\""),
        changed("exists = \"job\"", "exists = \"jib\""),
        changed("exists = \"job\"", "exists = \"job\"\nstatus = 404"),
        changed("exists = \"job\"", "exists = \"job\"\nstatus = 204"),
        changed("exists = \"job\"\n", ""),
        changed("command = \"pause-job\"", "command = \"pause-jop\""),
        changed("period-ms = 500", "period-ms = 1"),
        changed("form = \"server-sent-events\"", "form = \"websocket\""),
        changed(
            "heater = { path = \"name\" }",
            "heater = { path = \"nam\" }",
        ),
        changed("heater = { path = \"name\" }", "heater = {}"),
        changed(
            "heater = { path = \"name\" }",
            "heatr = { path = \"name\" }",
        ),
        changed(
            "celsius = { body = \"/target-celsius\" }",
            "celsius = { body = \"target\" }",
        ),
        changed(
            "celsius = { body = \"/target-celsius\" }",
            "celsius = { body = \"/target-celsius\" }\nextra = { value = 1 }",
        ),
        changed(
            "Cache-Control = \"no-cache\"",
            "\"Cache Control\" = \"no-cache\"",
        ),
        changed("Cache-Control = \"no-cache\"", "Cache-Control = \"a\\nb\""),
        changed("\"{{ detail }}\"", "\"{{ details }}\""),
        changed(
            "\"target-celsius\": \"{{ heater.target",
            "\"target-celsius\": \"{{ heater.targt",
        ),
        changed("\"{% include 'heater' %}\"", "\"{% include 'printer' %}\""),
    ];
    insta::assert_snapshot!(bodies.join("\n") + "\n\n" + &files.join("\n"));
}

#[test]
fn the_line_is_the_one_of_the_expression() {
    let message = changed("{{ job.progress_percent |", "{{ job.progres_percent |");
    let line = 1 + PLAIN
        .lines()
        .position(|line| line.contains("progress_percent"))
        .unwrap();
    assert!(
        message.starts_with(&format!("my.toml:{line}: ")),
        "{message}"
    );
    assert!(message.contains("at /progress-percent"), "{message}");
    assert!(
        message.ends_with("(did you mean `job.progress_percent`?)"),
        "{message}"
    );
}
