//! The scenario language as a JSON Schema, for editors.
//!
//! Made from the types that read a scenario, so that it cannot say anything else than they do. It
//! knows keys, types, words and ranges; what depends on two keys at once only the reader knows.

use schemars::generate::SchemaSettings;
use schemars::transform::{RecursiveTransform, Transform};
use schemars::{Schema, SchemaGenerator, json_schema};
use serde_json::Value;

use super::raw::RawScenario;
use crate::fault::Fault;
use crate::sim::HeaterKind;

/// Gives the JSON Schema (draft 2020-12) of scenario files.
pub fn schema() -> Value {
    let settings = SchemaSettings::draft2020_12();
    let mut schema = settings
        .into_generator()
        .into_root_schema_for::<RawScenario>();
    as_toml_has_it(&mut schema);
    describe_only_keys(&mut schema);
    schema.to_value()
}

/// Takes out of a whole schema what TOML has no word for.
pub fn as_toml_has_it(schema: &mut Schema) {
    RecursiveTransform(without_null).transform(schema);
}

/// Describes each key that is the only one of its table as the table itself is: an editor shows the
/// key's description.
pub fn describe_only_keys(schema: &mut Schema) {
    RecursiveTransform(described).transform(schema);
}

/// Lets every key of a table be missing, as it may stand in the file that is included.
pub(super) fn nothing_required(schema: &mut Schema) {
    schema.remove("required");
}

fn described(schema: &mut Schema) {
    let Some(description) = schema.get("description").cloned() else {
        return;
    };
    if let Some(Value::Object(properties)) = schema.get_mut("properties")
        && properties.len() == 1
    {
        for property in properties.values_mut().filter_map(Value::as_object_mut) {
            property
                .entry("description")
                .or_insert_with(|| description.clone());
        }
    }
}

/// Takes out what TOML has no word for.
fn without_null(schema: &mut Schema) {
    if let Some(Value::Array(types)) = schema.get_mut("type") {
        types.retain(|kind| kind != "null");
        if let [only] = types.as_slice() {
            let only = only.clone();
            schema.insert("type".to_owned(), only);
        }
    }
    if let Some(Value::Array(words)) = schema.get_mut("enum") {
        words.retain(|word| !word.is_null());
    }
    if let Some(Value::Array(choices)) = schema.get_mut("anyOf") {
        choices.retain(|choice| choice.get("type").is_none_or(|kind| kind != "null"));
        if let [Value::Object(only)] = choices.as_mut_slice() {
            let only = std::mem::take(only);
            schema.remove("anyOf");
            for (key, value) in only {
                schema.insert(key, value);
            }
        }
    }
    // A default of null only says that there is none; the description tells what then holds.
    schema.remove("default");
}

/// Gives the schema of a fault: a name is enough where every key has a default.
pub(super) fn fault(generator: &mut SchemaGenerator) -> Schema {
    let bare: Vec<String> = Fault::names()
        .into_iter()
        .filter(|name| serde_json::from_value::<Fault>(name.as_str().into()).is_ok())
        .collect();
    let table = generator.subschema_for::<Fault>();
    json_schema!({ "anyOf": [{ "type": "string", "enum": bare }, table] })
}

/// Gives the schema of a heater's kind.
pub(super) fn heater_kind(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "type": "string", "enum": HeaterKind::ALL.map(HeaterKind::word) })
}

/// Gives the schema of targets by heater.
pub(super) fn targets(_: &mut SchemaGenerator) -> Schema {
    let mut target = json_schema!({ "type": "number" });
    super::bounds::TARGET.shown().transform(&mut target);
    json_schema!({ "type": "object", "additionalProperties": target })
}
