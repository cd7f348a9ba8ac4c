//! Values of expressions -> JSON.

use minijinja::Value as Term;
use minijinja::value::{ValueIter, ValueKind};
use serde_json::{Map, Value};

use super::budget::Budget;
use super::expression::Expression;
use super::render::RenderError;

/// Turns an expression's value into JSON; numbers that JSON cannot write become null
/// (RFC 8259 section 6).
///
/// # Errors
/// Something inside is undefined, or the body becomes too large.
pub(super) fn json(
    term: &Term,
    expression: &Expression,
    depth: usize,
    budget: &mut Budget,
) -> Result<Value, RenderError> {
    budget.value(depth)?;
    match term.kind() {
        ValueKind::Undefined => Err(RenderError::of(expression, "undefined value inside")),
        ValueKind::None => Ok(Value::Null),
        ValueKind::Bool => Ok(term.is_true().into()),
        ValueKind::Number => Ok(number(term)),
        ValueKind::Seq | ValueKind::Iterable => items(term, expression)?
            .map(|item| json(&item, expression, depth + 1, budget))
            .collect::<Result<_, _>>()
            .map(Value::Array),
        ValueKind::Map => {
            let mut object = Map::new();
            for key in items(term, expression)? {
                let value = term
                    .get_item(&key)
                    .map_err(|error| RenderError::of(expression, &error.to_string()))?;
                let value = json(&value, expression, depth + 1, budget)?;
                object.insert(key.to_string(), value);
            }
            Ok(Value::Object(object))
        }
        _ => {
            let text = term.to_string();
            budget.text(text.len())?;
            Ok(text.into())
        }
    }
}

/// Turns one value into JSON, outside any body.
///
/// # Errors
/// As [`json`].
pub(super) fn alone(term: &Term, expression: &Expression) -> Result<Value, RenderError> {
    json(term, expression, 0, &mut Budget::new())
}

/// Gives the items of a list or the keys of a map; text and null are neither.
///
/// # Errors
/// The value is something else.
pub(super) fn items(term: &Term, expression: &Expression) -> Result<ValueIter, RenderError> {
    let kind = term.kind();
    if !matches!(kind, ValueKind::Seq | ValueKind::Iterable | ValueKind::Map) {
        let reason = format!("is neither list nor map but {kind}");
        return Err(RenderError::of(expression, &reason));
    }
    term.try_iter()
        .map_err(|error| RenderError::of(expression, &error.to_string()))
}

/// Takes a pair apart.
///
/// # Errors
/// The value is no list of two.
pub(super) fn pair(term: &Term, expression: &Expression) -> Result<[Term; 2], RenderError> {
    let two = matches!(term.kind(), ValueKind::Seq) && term.len() == Some(2);
    let part = |index| term.get_item_by_index(index).ok().filter(|_| two);
    match (part(0), part(1)) {
        (Some(one), Some(other)) => Ok([one, other]),
        _ => {
            let reason = "does not give pairs (`| items` makes them of a map)";
            Err(RenderError::of(expression, reason))
        }
    }
}

/// Writes a value as text, the words that JSON has as JSON has them.
pub(super) fn spell(term: &Term) -> String {
    match term.kind() {
        ValueKind::None => "null".to_owned(),
        ValueKind::Bool => term.is_true().to_string(),
        _ => term.to_string(),
    }
}

fn number(term: &Term) -> Value {
    if term.is_integer() {
        if let Ok(whole) = i64::try_from(term.clone()) {
            return whole.into();
        }
        if let Ok(whole) = u64::try_from(term.clone()) {
            return whole.into();
        }
    }
    f64::try_from(term.clone()).map_or(Value::Null, Value::from)
}
