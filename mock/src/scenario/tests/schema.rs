//! The schema for editors: fresh, sound, and of one mind with the reader.

use std::sync::LazyLock;

use serde_json::{Value, json};

use super::super::{BUILTIN, PRINTERS, schema};
use super::{EVERY_KEY, WHOLE, with};

const FILE: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../schemas/scenario.schema.json"
);
const DOCUMENT: &str = include_str!("../../../../docs/scenarios.md");

static VALIDATOR: LazyLock<jsonschema::Validator> =
    LazyLock::new(|| jsonschema::draft202012::new(&schema()).unwrap());

pub(super) fn accepted_by_schema(document: &Value) -> bool {
    VALIDATOR.is_valid(document)
}

/// Turns TOML into what an editor's schema looks at: dates become strings.
pub(super) fn as_json(text: &str) -> Value {
    fn convert(value: toml::Value) -> Value {
        match value {
            toml::Value::String(text) => text.into(),
            toml::Value::Integer(number) => number.into(),
            toml::Value::Float(number) => number.into(),
            toml::Value::Boolean(truth) => truth.into(),
            toml::Value::Datetime(moment) => moment.to_string().into(),
            toml::Value::Array(values) => values.into_iter().map(convert).collect(),
            toml::Value::Table(table) => table
                .into_iter()
                .map(|(key, value)| (key, convert(value)))
                .collect(),
        }
    }
    convert(toml::from_str(text).unwrap())
}

#[test]
fn the_file_for_editors_is_what_the_reader_says() {
    let fresh = format!("{:#}\n", schema());
    if std::env::var_os("COLDBED_REFRESH").is_some() {
        std::fs::write(FILE, &fresh).unwrap();
    }
    let kept = std::fs::read_to_string(FILE).unwrap_or_default();
    assert!(
        kept == fresh,
        "schemas/scenario.schema.json is not fresh; refresh it with\n\
         COLDBED_REFRESH=1 cargo test -p coldbed-mock the_file_for_editors_is_what_the_reader_says"
    );
}

#[test]
fn the_schema_is_one_of_draft_2020_12() {
    assert_eq!(
        schema()["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    assert!(jsonschema::draft202012::meta::is_valid(&schema()));
}

#[test]
fn every_built_in_file_and_the_one_with_every_key_is_valid() {
    let others = [("every key", EVERY_KEY), ("whole", WHOLE)];
    for (name, text) in BUILTIN.iter().chain(PRINTERS).chain(&others) {
        let document = as_json(text);
        let errors: Vec<String> = VALIDATOR
            .iter_errors(&document)
            .map(|error| format!("{}: {error}", error.instance_path))
            .collect();
        assert!(errors.is_empty(), "{name}: {errors:?}");
    }
}

#[test]
fn an_editor_is_told_of_misspelt_keys_wrong_words_and_numbers_out_of_range() {
    for (replace, by) in [
        ("power-watts = 40", "powr-watts = 40"),
        ("\"on-off\"", "\"onoff\""),
        ("max-celsius = 290", "max-celsius = 2900"),
        ("max-celsius = 290", "max-celsius = \"290 C\""),
        ("duration = \"45m\"", "duration = 45"),
        ("kind = \"platform\"", "kind = \"bed\""),
        ("extruder = 210", "extruder = 2100"),
        ("name = \"cable-clip\"\n", ""),
    ] {
        assert!(
            !accepted_by_schema(&as_json(&with(WHOLE, replace, by))),
            "{by}"
        );
    }
}

/// Collects the names of all keys the schema knows.
fn keys(schema: &Value, into: &mut Vec<String>) {
    match schema {
        Value::Object(object) => {
            if let Some(Value::Object(properties)) = object.get("properties") {
                into.extend(properties.keys().cloned());
            }
            object.values().for_each(|value| keys(value, into));
        }
        Value::Array(values) => values.iter().for_each(|value| keys(value, into)),
        _ => {}
    }
}

#[test]
fn every_key_has_a_description_for_editors() {
    fn walk(schema: &Value) {
        match schema {
            Value::Object(object) => {
                if let Some(Value::Object(properties)) = object.get("properties") {
                    for (key, property) in properties {
                        assert!(property["description"].is_string(), "{key}: {property}");
                    }
                }
                object.values().for_each(walk);
            }
            Value::Array(values) => values.iter().for_each(walk),
            _ => {}
        }
    }
    walk(&schema());
}

#[test]
fn every_key_is_in_the_document_and_in_the_file_with_every_key() {
    let mut names = Vec::new();
    let mut schema = schema();
    // Faults and drifts have pages of their own, with tests of their own.
    const ELSEWHERE: [&str; 5] = ["Fault", "Scope", "Position", "RetryAfter", "Change"];
    let parts = schema["$defs"].as_object_mut().unwrap();
    parts.retain(|part, _| !ELSEWHERE.contains(&part.as_str()));
    keys(&schema, &mut names);
    assert!(names.len() > 90, "only {} keys were found", names.len());
    for name in names {
        assert!(
            DOCUMENT.contains(&format!("`{name}`")),
            "docs/scenarios.md lacks `{name}`"
        );
        let used = EVERY_KEY.contains(&name) || WHOLE.contains(&name);
        // The chamber of the whole printer has what it needs from its own file.
        let printer = PRINTERS.iter().any(|(_, text)| text.contains(&name));
        assert!(used || printer, "no file of the tests uses `{name}`");
    }
}

#[test]
fn the_worked_example_of_the_document_is_read() {
    let (_, rest) = DOCUMENT.split_once("```toml\n").unwrap();
    let (example, rest) = rest.split_once("```").unwrap();
    let (_, rest) = rest.split_once("```toml\n").unwrap();
    let (troubles, _) = rest.split_once("```").unwrap();
    let whole = format!("{example}{troubles}");
    super::super::Scenario::parse("example.toml", &whole).unwrap();
    super::super::Scenario::parse("example.toml", example).unwrap();
    assert!(accepted_by_schema(&as_json(example)));
}

#[test]
fn no_word_of_the_schema_is_one_that_toml_lacks() {
    fn walk(value: &Value) {
        assert!(!value.is_null() && value != &json!("null"));
        match value {
            Value::Object(object) => object.values().for_each(walk),
            Value::Array(values) => values.iter().for_each(walk),
            _ => {}
        }
    }
    walk(&schema());
}
