//! Places in a JSON value, and simpler values for them. Pure.

use serde_json::{Map, Value};

/// Is the way to a value: members by name, items by index.
pub(super) type Path = Vec<Step>;

/// Is one step of a way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Step {
    Member(String),
    Item(usize),
}

/// Gives the containers of a value, the outer ones first.
pub(super) fn containers(value: &Value) -> Vec<Path> {
    let mut found = Vec::new();
    let mut next = vec![Vec::new()];
    while !next.is_empty() {
        let mut deeper = Vec::new();
        for path in next {
            match at(value, &path) {
                Some(Value::Object(members)) => {
                    deeper.extend(
                        members
                            .keys()
                            .map(|name| longer(&path, Step::Member(name.clone()))),
                    );
                    found.push(path);
                }
                Some(Value::Array(items)) => {
                    deeper.extend((0..items.len()).map(|index| longer(&path, Step::Item(index))));
                    found.push(path);
                }
                _ => {}
            }
        }
        next = deeper;
    }
    found
}

/// Gives the places of all values, the outer ones first.
pub(super) fn places(value: &Value) -> Vec<Path> {
    let mut found = vec![Vec::new()];
    let mut index = 0;
    while let Some(path) = found.get(index).cloned() {
        match at(value, &path) {
            Some(Value::Object(members)) => {
                found.extend(
                    members
                        .keys()
                        .map(|name| longer(&path, Step::Member(name.clone()))),
                );
            }
            Some(Value::Array(items)) => {
                found.extend((0..items.len()).map(|index| longer(&path, Step::Item(index))));
            }
            _ => {}
        }
        index += 1;
    }
    found
}

/// Gives how many parts a container has.
pub(super) fn size(value: &Value, path: &Path) -> usize {
    match at(value, path) {
        Some(Value::Object(members)) => members.len(),
        Some(Value::Array(items)) => items.len(),
        _ => 0,
    }
}

/// Gives the value with only those parts of one of its containers.
pub(super) fn keeping(value: &Value, path: &Path, kept: &[usize]) -> Value {
    let mut value = value.clone();
    let is_kept = |index: usize| kept.binary_search(&index).is_ok();
    match at_mut(&mut value, path) {
        Some(Value::Object(members)) => {
            let left: Map<String, Value> = std::mem::take(members)
                .into_iter()
                .enumerate()
                .filter(|(index, _)| is_kept(*index))
                .map(|(_, member)| member)
                .collect();
            *members = left;
        }
        Some(Value::Array(items)) => {
            let mut index = 0;
            items.retain(|_| {
                index += 1;
                is_kept(index - 1)
            });
        }
        _ => {}
    }
    value
}

/// Gives simpler values of the same kind, the simplest first; each is simpler than what it stands for,
/// so that this comes to an end.
pub(super) fn simpler(value: &Value) -> Vec<Value> {
    match value {
        Value::Object(members) if !members.is_empty() => vec![Value::Object(Map::new())],
        Value::Array(items) if !items.is_empty() => vec![Value::Array(Vec::new())],
        Value::String(text) if !text.is_empty() => {
            let half: String = text.chars().take(text.chars().count() / 2).collect();
            let mut simpler = vec![Value::from(""), Value::from("a"), Value::from(half)];
            simpler.retain(|other| other.as_str().is_some_and(|other| other.len() < text.len()));
            simpler.dedup();
            simpler
        }
        Value::Number(number) => {
            let shown = number.to_string();
            let whole = number
                .as_f64()
                .map(|number| Value::from(number.trunc().to_string()));
            let whole = whole.and_then(|text| serde_json::from_str(text.as_str()?).ok());
            let mut simpler: Vec<Value> = [Some(Value::from(0)), Some(Value::from(1)), whole]
                .into_iter()
                .flatten()
                .collect();
            simpler.retain(|other| {
                let other = other.to_string();
                other.len() < shown.len() || (other.len() == shown.len() && other < shown)
            });
            simpler.dedup();
            simpler
        }
        Value::Bool(true) => vec![Value::Bool(false)],
        _ => Vec::new(),
    }
}

/// Gives the value with another one at a place.
pub(super) fn putting(value: &Value, path: &Path, new: Value) -> Value {
    let mut value = value.clone();
    if let Some(place) = at_mut(&mut value, path) {
        *place = new;
    }
    value
}

/// Gives what is at a place.
pub(super) fn at<'v>(value: &'v Value, path: &[Step]) -> Option<&'v Value> {
    path.iter().try_fold(value, |value, step| match step {
        Step::Member(name) => value.get(name),
        Step::Item(index) => value.get(index),
    })
}

fn at_mut<'v>(value: &'v mut Value, path: &[Step]) -> Option<&'v mut Value> {
    path.iter().try_fold(value, |value, step| match step {
        Step::Member(name) => value.get_mut(name),
        Step::Item(index) => value.get_mut(index),
    })
}

fn longer(path: &Path, step: Step) -> Path {
    let mut path = path.clone();
    path.push(step);
    path
}
