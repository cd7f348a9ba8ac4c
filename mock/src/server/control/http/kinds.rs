//! `/fault-kinds` and `/drift-kinds`

use axum::response::Response;
use serde_json::{Value, json};

use super::answer::ok;
use crate::drift::{Change, Drift};
use crate::fault::ScopedFault;

/// Names the faults and gives the JSON Schema (draft 2020-12) of what raises one.
pub(super) async fn faults() -> Response {
    let schema = schemars::schema_for!(ScopedFault).to_value();
    ok(&json!({ "kinds": kinds(&schema["$defs"]["Fault"]), "schema": schema }))
}

/// Names the drifts and gives the JSON Schema of what raises one.
pub(super) async fn drifts() -> Response {
    let schema = schemars::schema_for!(Drift).to_value();
    let kinds: Vec<Value> = Change::names()
        .into_iter()
        .map(|name| json!({ "name": name }))
        .collect();
    ok(&json!({ "kinds": kinds, "schema": schema }))
}

/// Reads the names, and what they mean, out of the schema of an enum.
fn kinds(schema: &Value) -> Vec<Value> {
    let variants = schema["oneOf"].as_array().into_iter().flatten();
    let mut kinds = Vec::new();
    for variant in variants {
        let names = match (&variant["const"], &variant["enum"], &variant["required"]) {
            (Value::String(_), _, _) => std::slice::from_ref(&variant["const"]),
            (_, Value::Array(names), _) | (_, _, Value::Array(names)) => names,
            _ => &[],
        };
        for name in names {
            let mut kind = json!({ "name": name });
            if let Some(says) = variant["description"].as_str() {
                // The first sentence; the rest is for who reads the schema.
                let sentence = says.split("\n\n").next().unwrap_or(says);
                kind["says"] = sentence.replace('\n', " ").into();
            }
            kinds.push(kind);
        }
    }
    kinds
}
