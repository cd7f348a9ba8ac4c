mod board;
mod properties;
mod samples;
mod shape;
mod spelling;

use super::*;
use samples::samples;

#[test]
fn every_kind_has_a_sample_and_is_written_and_read_back_as_data() {
    let mut names = Change::names();
    for (change, _) in samples() {
        let drift = Drift::of("/a", change);
        names.retain(|name| *name != drift.name);
        let text = serde_json::to_string(&drift).unwrap();
        assert_eq!(
            serde_json::from_str::<Drift>(&text).unwrap(),
            drift,
            "{text}"
        );
        let tag = format!(r#""change":{{"{}":"#, drift.name);
        assert!(text.contains(&tag), "{text}");
    }
    assert_eq!(names, Vec::<String>::new());
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
        let drift = Drift::of("/none", change);
        let mut body = serde_json::json!({"a": 1});
        let errors = (
            drift.apply(&mut body).unwrap_err(),
            drift.spell(&body).unwrap_err(),
        );
        let shape = matches!(errors.1, DriftMiss::OtherStage { wanted: "spelling" });
        let spelling = matches!(errors.0, DriftMiss::OtherStage { wanted: "shape" });
        assert!(shape != spelling, "{errors:?}");
    }
}
