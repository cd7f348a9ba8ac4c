//! The structure of what was answered, as a JSON Schema.

use std::collections::BTreeSet;

use serde_json::{Map, Value, json};

/// Infers a JSON Schema (draft 2020-12) that accepts all of these bodies: types, members, those that are
/// always there, items of lists. Values are not restricted.
pub fn schema<'a>(bodies: impl IntoIterator<Item = &'a Value>) -> Value {
    let bodies: Vec<&Value> = bodies.into_iter().collect();
    let mut schema = of(&bodies);
    if let Some(members) = schema.as_object_mut() {
        members.insert(
            "$schema".to_owned(),
            json!("https://json-schema.org/draft/2020-12/schema"),
        );
    }
    schema
}

fn of(values: &[&Value]) -> Value {
    let mut types = BTreeSet::new();
    let mut schema = Map::new();
    let objects: Vec<&Map<String, Value>> = values
        .iter()
        .filter_map(|value| value.as_object())
        .collect();
    let items: Vec<&Value> = values
        .iter()
        .filter_map(|value| value.as_array())
        .flatten()
        .collect();
    for value in values {
        types.insert(match value {
            Value::Null => "null",
            Value::Bool(_) => "boolean",
            // An integer now and then is a number that was whole.
            Value::Number(_) => "number",
            Value::String(_) => "string",
            Value::Array(_) => "array",
            Value::Object(_) => "object",
        });
    }
    let types: Vec<&str> = types.into_iter().collect();
    schema.insert(
        "type".to_owned(),
        match types[..] {
            [one] => json!(one),
            _ => json!(types),
        },
    );
    if !objects.is_empty() {
        let mut names: Vec<&String> = objects.iter().flat_map(|object| object.keys()).collect();
        names.sort_unstable();
        names.dedup();
        let mut properties = Map::new();
        let mut required = Vec::new();
        for name in names {
            let there: Vec<&Value> = objects
                .iter()
                .filter_map(|object| object.get(name))
                .collect();
            if there.len() == objects.len() {
                required.push(name.clone());
            }
            properties.insert(name.clone(), of(&there));
        }
        schema.insert("properties".to_owned(), Value::Object(properties));
        schema.insert("required".to_owned(), json!(required));
        schema.insert("additionalProperties".to_owned(), json!(false));
    }
    if !items.is_empty() {
        schema.insert("items".to_owned(), of(&items));
    }
    Value::Object(schema)
}
