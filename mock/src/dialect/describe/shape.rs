//! JSON values -> the schema of all of them.

use indexmap::IndexMap;
use serde_json::{Map, Value, json};

use super::truths::Side;

/// Is what was seen at one place of a body.
#[derive(Debug, Clone, Default)]
pub(super) struct Shape {
    object: Option<Members>,
    /// What was seen in the arrays.
    array: Option<Box<Shape>>,
    string: bool,
    integer: bool,
    number: bool,
    boolean: bool,
    null: bool,
}

/// Is what was seen in objects.
#[derive(Debug, Clone, Default)]
struct Members {
    /// How many objects there were.
    count: usize,
    by_name: IndexMap<String, Member>,
}

#[derive(Debug, Clone, Default)]
struct Member {
    shape: Shape,
    /// In how many objects it was.
    count: usize,
    in_samples: bool,
    in_renamed: bool,
}

impl Member {
    fn is_name_only_in(&self, side: Side) -> bool {
        match side {
            Side::Sample => self.in_samples && !self.in_renamed,
            Side::Renamed => self.in_renamed && !self.in_samples,
            Side::Scenario => false,
        }
    }
}

impl Shape {
    /// Adds a value.
    pub(super) fn add(&mut self, value: &Value, side: Side) {
        match value {
            Value::Null => self.null = true,
            Value::Bool(_) => self.boolean = true,
            Value::Number(number) if number.is_f64() => self.number = true,
            Value::Number(_) => self.integer = true,
            Value::String(_) => self.string = true,
            Value::Array(items) => {
                let array = self.array.get_or_insert_default();
                items.iter().for_each(|item| array.add(item, side));
            }
            Value::Object(object) => {
                let members = self.object.get_or_insert_default();
                members.count += 1;
                for (name, value) in object {
                    let member = members.by_name.entry(name.clone()).or_default();
                    member.count += 1;
                    member.in_samples |= side == Side::Sample;
                    member.in_renamed |= side == Side::Renamed;
                    member.shape.add(value, side);
                }
            }
        }
    }

    /// Adds all that another has seen.
    fn unite(&mut self, other: &Self) {
        self.string |= other.string;
        self.integer |= other.integer;
        self.number |= other.number;
        self.boolean |= other.boolean;
        self.null |= other.null;
        if let Some(items) = &other.array {
            self.array.get_or_insert_default().unite(items);
        }
        if let Some(members) = &other.object {
            let own = self.object.get_or_insert_default();
            own.count += members.count;
            for (name, member) in &members.by_name {
                let known = own.by_name.entry(name.clone()).or_default();
                known.count += member.count;
                known.in_samples |= member.in_samples;
                known.in_renamed |= member.in_renamed;
                known.shape.unite(&member.shape);
            }
        }
    }

    /// Gives the schema (JSON Schema, draft 2020-12); that of anything if nothing was seen.
    pub(super) fn schema(&self) -> Value {
        let types = self.types();
        let mut schema = Map::new();
        match types.as_slice() {
            [] => return json!({}),
            [only] => schema.insert("type".to_owned(), (*only).into()),
            several => schema.insert("type".to_owned(), several.into()),
        };
        if let Some(members) = &self.object {
            members.describe(&mut schema);
        }
        if let Some(items) = &self.array
            && !items.types().is_empty()
        {
            schema.insert("items".to_owned(), items.schema());
        }
        schema.into()
    }

    /// An integer is a number too, so the two are never both told.
    fn types(&self) -> Vec<&'static str> {
        [
            (self.object.is_some(), "object"),
            (self.array.is_some(), "array"),
            (self.string, "string"),
            (self.number, "number"),
            (self.integer && !self.number, "integer"),
            (self.boolean, "boolean"),
            (self.null, "null"),
        ]
        .into_iter()
        .filter_map(|(was_seen, name)| was_seen.then_some(name))
        .collect()
    }
}

impl Members {
    /// Tells whether the keys are names that only the scenario knows.
    fn are_open(&self) -> bool {
        let has = |side| self.by_name.values().any(|one| one.is_name_only_in(side));
        has(Side::Sample) && has(Side::Renamed)
    }

    fn describe(&self, schema: &mut Map<String, Value>) {
        let is_open = self.are_open();
        let is_fixed = |member: &Member| !is_open || (member.in_samples && member.in_renamed);
        let mut properties = Map::new();
        let mut required = Vec::new();
        let mut others = Shape::default();
        for (name, member) in &self.by_name {
            if !is_fixed(member) {
                others.unite(&member.shape);
                continue;
            }
            properties.insert(name.clone(), member.shape.schema());
            if member.count == self.count {
                required.push(name.as_str());
            }
        }
        if !properties.is_empty() {
            schema.insert("properties".to_owned(), properties.into());
        }
        if !required.is_empty() {
            schema.insert("required".to_owned(), required.into());
        }
        if is_open {
            schema.insert("additionalProperties".to_owned(), others.schema());
        }
    }
}
