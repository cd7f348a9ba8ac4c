//! The places of a body, by what can be done there.

use serde_json::{Number, Value};

use crate::pointer;

/// Gives the pointers to everything in a body, itself first.
pub fn places(body: &Value) -> Vec<String> {
    let mut all = Vec::new();
    walk(body, &mut |pointer, _, _| all.push(pointer.to_owned()));
    all
}

/// Is the pointers of a body, by what is there.
#[derive(Debug, Default)]
pub(super) struct Places {
    pub(super) all: Vec<String>,
    pub(super) members: Vec<String>,
    pub(super) objects: Vec<String>,
    pub(super) arrays: Vec<String>,
    pub(super) containers: Vec<String>,
    pub(super) numbers: Vec<String>,
    pub(super) texts: Vec<String>,
    pub(super) numeric_texts: Vec<String>,
    /// How many bytes the body has as it is usually written.
    pub(super) length: usize,
}

impl Places {
    pub(super) fn of(body: &Value) -> Self {
        let mut places = Self {
            length: body.to_string().len(),
            ..Self::default()
        };
        walk(body, &mut |pointer, value, is_member| {
            places.note(pointer, value, is_member);
        });
        places
    }

    fn note(&mut self, pointer: &str, value: &Value, is_member: bool) {
        let add = |list: &mut Vec<String>| list.push(pointer.to_owned());
        add(&mut self.all);
        if is_member {
            add(&mut self.members);
        }
        if value.is_object() || value.is_array() {
            add(&mut self.containers);
        }
        match value {
            Value::Object(_) => add(&mut self.objects),
            Value::Array(_) => add(&mut self.arrays),
            Value::Number(_) => add(&mut self.numbers),
            Value::String(text) => {
                add(&mut self.texts);
                if serde_json::from_str::<Number>(text).is_ok() {
                    add(&mut self.numeric_texts);
                }
            }
            Value::Null | Value::Bool(_) => {}
        }
    }

    /// Gives the members whose object is one of the places, as object and name.
    pub(super) fn owned(&self) -> Vec<(String, String)> {
        let split = |member: &String| {
            let (parent, name) = pointer::split(member)?;
            Some((parent.to_owned(), name))
        };
        self.members.iter().filter_map(split).collect()
    }
}

/// Visits everything in a value, itself first; with whether it is a member of an object.
fn walk(body: &Value, visit: &mut impl FnMut(&str, &Value, bool)) {
    let mut open = vec![(String::new(), body, false)];
    while let Some((pointer, value, is_member)) = open.pop() {
        visit(&pointer, value, is_member);
        let below = open.len();
        match value {
            Value::Array(elements) => {
                let elements = elements.iter().enumerate();
                open.extend(
                    elements.map(|(index, value)| (format!("{pointer}/{index}"), value, false)),
                );
            }
            Value::Object(members) => {
                let members = members.iter();
                open.extend(
                    members.map(|(name, value)| (pointer::join(&pointer, name), value, true)),
                );
            }
            _ => {}
        }
        // The first is looked at first.
        open[below..].reverse();
    }
}
