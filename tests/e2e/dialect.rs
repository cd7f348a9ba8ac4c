//! `coldbed dialect`.

use crate::common::{run, stderr, stdout};

const SPARE: &str = "\n[words.spare]\none = 1\n";

/// Writes the built-in dialect with something more into a file, and gives the folder and the path.
fn file_with(more: &str) -> (tempfile::TempDir, String) {
    let text = stdout(&run(&["dialect", "show", "plain"]));
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("mine.toml");
    // Tables may stand in any order, and the last one of the text is an array's.
    std::fs::write(&file, format!("{more}\n{text}")).unwrap();
    let path = file.to_str().unwrap().to_owned();
    (dir, path)
}

#[test]
fn the_text_shown_is_a_dialect_to_begin_with() {
    let (_dir, file) = file_with("");
    let output = run(&["dialect", "lint", &file]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert_eq!(stdout(&output), format!("{file}: no warnings\n"));
}

#[test]
fn a_warning_is_told_with_its_line_and_only_strict_makes_it_a_failure() {
    let (_dir, file) = file_with(SPARE);
    let said = format!("{file}:2: words.spare: no expression uses this table\n{file}: 1 warning\n");
    for (args, code) in [
        (&["dialect", "lint"][..], 0),
        (&["dialect", "lint", "--strict"], 1),
    ] {
        let output = run(&[args, &[file.as_str()]].concat());
        assert_eq!(output.status.code(), Some(code), "{args:?}");
        assert_eq!(stdout(&output), said);
    }
}

#[test]
fn what_is_wrong_is_told_as_serve_tells_it() {
    let (_dir, file) = file_with("titel = \"mine\"\n");
    let linted = run(&["dialect", "lint", &file]);
    let served = run(&["serve", "--dialect", &file]);
    assert_eq!(linted.status.code(), Some(2));
    assert!(
        stderr(&linted).contains("mine.toml:1: titel: "),
        "{}",
        stderr(&linted)
    );
    assert_eq!(stderr(&linted), stderr(&served));
    let none = run(&["dialect", "show", "plian"]);
    assert_eq!(none.status.code(), Some(2));
    assert!(
        stderr(&none).contains("did you mean `plain`?"),
        "{}",
        stderr(&none)
    );
}

#[test]
fn a_preview_shows_each_body_at_the_moments_asked_for() {
    let moment = ["dialect", "lint", "plain", "--preview", "--at", "1h"];
    insta::assert_snapshot!(stdout(&run(&moment)));
    let usual = stdout(&run(&["dialect", "lint", "plain", "--preview"]));
    let count = |heading: &str| usual.matches(heading).count();
    assert_eq!(
        count("== printing at "),
        4 * count("== printing at 0s"),
        "{usual}"
    );
    let alone = run(&["dialect", "lint", "plain", "--at", "1h"]);
    assert_eq!(alone.status.code(), Some(2), "--at needs --preview");
}

#[test]
fn a_document_names_the_server_and_every_path() {
    let output = run(&[
        "dialect",
        "describe",
        "plain",
        "--server",
        "http://printer.test",
    ]);
    let document: serde_json::Value = serde_json::from_str(&stdout(&output)).unwrap();
    assert_eq!(document["openapi"], "3.1.1");
    assert_eq!(document["servers"][0]["url"], "http://printer.test");
    let paths: Vec<&String> = document["paths"].as_object().unwrap().keys().collect();
    assert!(
        paths.iter().any(|path| *path == "/heaters/{name}"),
        "{paths:?}"
    );
}

#[test]
fn a_version_that_the_file_does_not_have_is_told() {
    for what in ["describe", "lint"] {
        let unknown = run(&["dialect", what, "plain@9.9"]);
        assert_eq!(unknown.status.code(), Some(2), "{what}");
        let said = stderr(&unknown);
        assert!(said.contains("no version `9.9`"), "{said}");
    }
}

#[test]
fn the_schema_printed_is_the_one_kept_for_editors() {
    let kept = include_str!("../../schemas/dialect.schema.json");
    assert_eq!(stdout(&run(&["dialect", "schema"])), kept);
}
