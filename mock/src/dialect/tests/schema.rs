//! The schema for editors: fresh, sound, and of one mind with the reader.

use std::sync::LazyLock;

use serde_json::Value;

use crate::dialect::DialectFile;

const FILE: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../schemas/dialect.schema.json"
);

static VALIDATOR: LazyLock<jsonschema::Validator> =
    LazyLock::new(|| jsonschema::draft202012::new(&DialectFile::schema()).unwrap());

/// Has every key of the language at least once.
const EVERY_KEY: &str = include_str!("every-key.toml");

fn as_json(text: &str) -> Value {
    toml::from_str(text).unwrap()
}

fn errors(text: &str) -> Vec<String> {
    VALIDATOR
        .iter_errors(&as_json(text))
        .map(|error| format!("{}: {error}", error.instance_path))
        .collect()
}

#[test]
fn the_dialects_file_for_editors_is_what_the_reader_says() {
    let fresh = format!("{:#}\n", DialectFile::schema());
    if std::env::var_os("COLDBED_REFRESH").is_some() {
        std::fs::write(FILE, &fresh).unwrap();
    }
    let kept = std::fs::read_to_string(FILE).unwrap_or_default();
    assert!(
        kept == fresh,
        "schemas/dialect.schema.json is not fresh; refresh it with\n\
         COLDBED_REFRESH=1 cargo test -p coldbed-mock \
         the_dialects_file_for_editors_is_what_the_reader_says"
    );
}

#[test]
fn the_schema_is_one_of_draft_2020_12() {
    let schema = DialectFile::schema();
    assert_eq!(
        schema["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    assert!(jsonschema::draft202012::meta::is_valid(&schema));
}

#[test]
fn every_built_in_dialect_and_the_one_with_every_key_is_valid_for_both() {
    DialectFile::parse("every-key.toml", EVERY_KEY).unwrap();
    assert_eq!(errors(EVERY_KEY), [""; 0]);
    for name in DialectFile::builtin_names() {
        let text = DialectFile::builtin_text(name).unwrap();
        assert_eq!(errors(text), [""; 0], "{name}");
    }
}

#[test]
fn an_editor_is_told_of_misspelt_keys_wrong_words_and_numbers_out_of_range() {
    for (replace, by) in [
        ("summary =", "sumary ="),
        ("scheme = \"session-token\"", "scheme = \"session-tokn\""),
        ("method = \"PATCH\"", "method = \"HEAD\""),
        ("path = \"/log-out\"", "path = \"log-out\""),
        ("command = \"set-target\"", "command = \"set-targt\""),
        ("again = \"accepted\"", "again = \"acepted\""),
        ("status = 207", "status = 307"),
        ("period-ms = 500", "period-ms = 5"),
        ("idle-s = 86400", "idle-s = \"10m\""),
        ("{ value = 60 }", "{ value = 60, path = \"name\" }"),
        ("[problem]", "[problems]"),
    ] {
        assert!(EVERY_KEY.contains(replace), "nothing to change: {replace}");
        let changed = EVERY_KEY.replacen(replace, by, 1);
        assert!(!errors(&changed).is_empty(), "{by}");
    }
}

/// Visits every key the schema knows, with what it says about it.
fn each_key(schema: &Value, visit: &mut impl FnMut(&str, &Value)) {
    match schema {
        Value::Object(object) => {
            if let Some(Value::Object(properties)) = object.get("properties") {
                for (key, property) in properties {
                    visit(key, property);
                }
            }
            object.values().for_each(|value| each_key(value, visit));
        }
        Value::Array(values) => values.iter().for_each(|value| each_key(value, visit)),
        _ => {}
    }
}

#[test]
fn every_key_has_a_description_for_editors_and_is_in_the_file_with_every_key() {
    let mut count = 0;
    each_key(&DialectFile::schema(), &mut |key, property| {
        count += 1;
        assert!(property["description"].is_string(), "{key}: {property}");
        assert!(EVERY_KEY.contains(key), "the file lacks `{key}`");
    });
    assert!(count > 60, "only {count} keys were found");
}
