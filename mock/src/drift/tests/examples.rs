//! One drift of each kind for the page and the bytes, at a place of one body.

use serde::Deserialize;
use serde_json::{Value, json};

use super::*;

/// Gives the body that the examples are drifts of.
pub(super) fn body() -> Value {
    json!({
        "state": "printing",
        "heaters": [{"name": "Düse", "celsius": 209.8}, {"name": "plate", "celsius": 60}],
        "job": {"name": "clip", "percent": 50, "note": null},
        "revision": "12",
    })
}

#[derive(Deserialize)]
struct File {
    drift: Vec<Drift>,
}

pub(super) fn examples() -> Vec<Drift> {
    let file: File = toml::from_str(include_str!("examples.toml")).unwrap();
    file.drift
}

/// Gives the bytes that a client is sent, before they are carried.
fn wire(drift: &Drift) -> Vec<u8> {
    let board = DriftBoard::default();
    let _guard = board.raise(drift.clone());
    let mut body = body();
    board.apply(&mut body);
    let spelled = board.spell(&body);
    spelled.unwrap_or_else(|| body.to_string().into_bytes())
}

#[test]
fn every_kind_has_an_example_that_fits() {
    let mut names = Change::names();
    for drift in examples() {
        let kind = drift.change.name();
        names.retain(|name| *name != kind);
        assert_eq!(drift.fits(&body()), Ok(()), "{kind}");
        if drift.change.stage() != Stage::Form {
            assert_ne!(wire(&drift), body().to_string().into_bytes(), "{kind}");
        }
    }
    assert_eq!(names, Vec::<String>::new());
}

#[test]
fn each_kind_puts_these_bytes_on_the_wire() {
    let mut shown = format!("the body\n  {}\n\n", body());
    for drift in examples() {
        let class = serde_json::to_value(drift.class).unwrap();
        let change = serde_json::to_string(&drift.change).unwrap();
        let bytes = match drift.form() {
            Some(form) => format!("{form:?}"),
            None => wire(&drift)
                .escape_ascii()
                .to_string()
                .replace("\\\"", "\""),
        };
        shown.push_str(&format!(
            "{change} at `{}`, {}\n  {}\n  {bytes}\n\n",
            drift.pointer,
            class.as_str().unwrap(),
            drift.explain()
        ));
    }
    insta::assert_snapshot!(shown);
}
