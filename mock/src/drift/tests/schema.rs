//! The schema of a drift, which files with drifts in them embed.

use schemars::generate::SchemaSettings;
use serde_json::{Value, json};

use super::examples::examples;
use super::*;

pub(super) fn schema() -> Value {
    let settings = SchemaSettings::draft2020_12();
    settings
        .into_generator()
        .into_root_schema_for::<Drift>()
        .to_value()
}

#[test]
fn the_schema_is_sound_and_takes_every_kind_as_it_is_written() {
    let schema = schema();
    assert!(jsonschema::draft202012::meta::is_valid(&schema));
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    for drift in examples() {
        let written = serde_json::to_value(&drift).unwrap();
        let errors: Vec<_> = validator.iter_errors(&written).collect();
        assert!(errors.is_empty(), "{written} {errors:?}");
    }
    let short = json!({"change": "lone-surrogate"});
    assert!(validator.is_valid(&short));
}

#[test]
fn an_editor_is_told_of_what_the_reader_refuses() {
    let validator = jsonschema::draft202012::new(&schema()).unwrap();
    for wrong in [
        json!({}),
        json!({"change": "replace-by-nul"}),
        json!({"change": "scale"}),
        json!({"change": {"scale": {"factor": "2"}}}),
        json!({"change": {"scale": {"factor": 2, "ofset": 1}}}),
        json!({"change": {"scale": {"factor": 2}, "sort-members": {}}}),
        json!({"change": "sort-members", "pointer": "a"}),
        json!({"change": "sort-members", "pointer": "/a~b"}),
        json!({"change": "sort-members", "class": "harmless"}),
        json!({"change": "sort-members", "place": "/a"}),
    ] {
        assert!(!validator.is_valid(&wrong), "{wrong}");
        assert!(
            serde_json::from_value::<Drift>(wrong.clone()).is_err(),
            "{wrong}"
        );
    }
}

#[test]
fn every_kind_and_every_parameter_has_a_description_for_editors() {
    let schema = schema();
    let kinds = schema["$defs"]["Change"]["oneOf"].as_array().unwrap();
    assert!(kinds.len() >= Change::names().len());
    for kind in kinds {
        assert!(kind["description"].is_string(), "{kind}");
        let Some(properties) = kind["properties"].as_object() else {
            continue;
        };
        let inner = properties.values().next().unwrap();
        for (name, parameter) in inner["properties"].as_object().unwrap() {
            assert!(parameter["description"].is_string(), "{name} of {kind}");
        }
    }
}
