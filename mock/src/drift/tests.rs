mod board;
mod effect;
mod examples;
mod file_form;
mod generated;
mod page;
mod properties;
mod samples;
mod schema;
mod shape;
mod spelling;

use super::*;
use samples::samples;

#[test]
fn every_kind_has_a_sample_and_is_written_and_read_back_as_data() {
    let mut names = Change::names();
    for (change, _) in samples() {
        let drift = Drift::of(pointer_for(&change), change);
        names.retain(|name| *name != drift.name);
        let text = serde_json::to_string(&drift).unwrap();
        assert_eq!(
            serde_json::from_str::<Drift>(&text).unwrap(),
            drift,
            "{text}"
        );
        let toml = toml::to_string(&drift).unwrap();
        assert_eq!(toml::from_str::<Drift>(&toml).unwrap(), drift, "{toml}");
    }
    assert_eq!(names, Vec::<String>::new());
}

/// Gives a place that a change may be at.
fn pointer_for(change: &Change) -> &'static str {
    match change.stage() {
        Stage::Form => "",
        Stage::Shape | Stage::Spelling => "/a",
    }
}

#[test]
fn each_kind_suggests_what_a_client_owes() {
    for (change, class) in samples() {
        let drift = Drift::of("", change);
        assert_eq!(drift.class, class, "{}", drift.name);
    }
}

#[test]
fn each_kind_is_of_one_stage() {
    for (change, _) in samples() {
        let drift = Drift::of("", change);
        let mut body = serde_json::json!({"a": 1});
        let of_another = |wanted| DriftMiss::OtherStage { wanted };
        let shape = drift.apply(&mut body) != Err(of_another("shape"));
        let spelling = drift.spell(&body) != Err(of_another("spelling"));
        let form = drift.form().is_some();
        let stages = [
            (Stage::Shape, shape),
            (Stage::Spelling, spelling),
            (Stage::Form, form),
        ];
        for (stage, is_of_it) in stages {
            assert_eq!(drift.change.stage() == stage, is_of_it, "{}", drift.name);
        }
    }
}
