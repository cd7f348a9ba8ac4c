//! What an expression takes: found by giving it one of each kind of JSON.

use std::sync::Arc;

use serde_json::{Value, json};

use super::truths::{Side, truths};
use crate::dialect::expression::Expression;
use crate::dialect::{Dialect, RouteId, filled, term};

/// Is a member of a request's body that an argument is worked out from.
pub(super) struct Member {
    pub(super) path: Vec<String>,
    /// What it may be: anything if nothing was taken, as where two members must differ.
    pub(super) schema: Value,
    /// Whether there is no argument without it.
    pub(super) required: bool,
}

/// Gives the members of a request's body that an argument is worked out from.
pub(super) fn taken(
    dialect: &Dialect,
    id: RouteId,
    expression: &Expression,
    wanted: &Value,
) -> Vec<Member> {
    let paths: Vec<Vec<String>> = expression
        .names()
        .iter()
        .filter_map(|name| name.strip_prefix("body."))
        .map(|path| path.split('.').map(str::to_owned).collect())
        .collect();
    let mut types = Vec::new();
    for (kind, example) in [
        ("object", json!({ "member": 1 })),
        ("array", json!([1])),
        ("string", json!("text")),
        ("number", json!(1.5)),
        ("boolean", json!(true)),
        ("null", json!(null)),
    ] {
        let mut body = json!({});
        for path in &paths {
            set(&mut body, path, example.clone());
        }
        if gives(dialect, id, expression, body, wanted) {
            types.push(kind);
        }
    }
    let schema = match types.as_slice() {
        [] => json!({}),
        [only] => json!({ "type": only }),
        several => json!({ "type": several }),
    };
    let required = !gives(dialect, id, expression, json!({}), wanted);
    let member = |path| Member {
        path,
        schema: schema.clone(),
        required,
    };
    paths.into_iter().map(member).collect()
}

/// Tells whether an argument can be worked out from a body, in every sample.
fn gives(
    dialect: &Dialect,
    id: RouteId,
    expression: &Expression,
    body: Value,
    wanted: &Value,
) -> bool {
    let body = Arc::new(body);
    let mut samples = truths().iter().filter(|(side, _)| *side == Side::Sample);
    samples.all(|(_, truth)| {
        let mut matched = filled::requests(dialect, id, truth).swap_remove(0);
        matched.body = Some(Arc::clone(&body));
        let value = expression.evaluate(&dialect.scope(truth, &matched)).ok();
        match value.and_then(|value| term::alone(&value, expression).ok()) {
            Some(Value::Number(_)) => wanted == "number",
            Some(Value::String(_)) => wanted == "string",
            _ => false,
        }
    })
}

/// Sets a value at a path below another.
fn set(root: &mut Value, path: &[String], value: Value) {
    match path {
        [] => *root = value,
        [first, rest @ ..] => {
            if !root.is_object() {
                *root = json!({});
            }
            set(&mut root[first], rest, value);
        }
    }
}
