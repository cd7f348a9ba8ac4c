//! A route's body with expressions in the place of values.

use indexmap::IndexMap;
use serde_json::Value;

use super::expression::{Around, expression, quoted};
use crate::host::{Leaf, Meaning, RouteGuess, escaped};

/// Writes the body of a route, as JSON text.
pub(super) fn body(route: &RouteGuess, words: &IndexMap<&str, String>) -> String {
    let leaves: IndexMap<&str, &Leaf> = route
        .leaves
        .iter()
        .map(|leaf| (leaf.pointer.as_str(), leaf))
        .collect();
    let writer = Writer { leaves, words };
    let around = Around {
        in_job: route.is_of_job,
    };
    match (&route.with_job, &route.without_job) {
        (Some(with), Some(without)) => writer.both(with, without, "", 0),
        (Some(one), None) => writer.one(one, "", 0, around),
        // No job was ever seen.
        (None, Some(one)) => writer.one(one, "", 0, around),
        (None, None) => "{}".to_owned(),
    }
}

struct Writer<'a> {
    leaves: IndexMap<&'a str, &'a Leaf>,
    /// The table of words of each leaf that says the phase.
    words: &'a IndexMap<&'a str, String>,
}

impl Writer<'_> {
    fn one(&self, value: &Value, pointer: &str, depth: usize, around: Around) -> String {
        if let (Some(heater), true) = (self.gone_with(pointer), value.is_object()) {
            let there = self.whole(value, pointer, depth + 1, around);
            let members = vec![
                (json_text(&format!("{{% if heaters.{heater}.on %}}")), there),
                (json_text("{% else %}"), "null".to_owned()),
            ];
            return object(members, depth);
        }
        self.whole(value, pointer, depth, around)
    }

    /// Gives the heater that is off where an object is null.
    fn gone_with(&self, pointer: &str) -> Option<&str> {
        // It is a leaf of its own where it is null.
        self.leaves
            .get(pointer)
            .filter(|leaf| leaf.is_null_at_times)?;
        let below = format!("{pointer}/");
        let inside = self
            .leaves
            .values()
            .filter(|leaf| leaf.pointer.starts_with(&below));
        let mut targets = inside.filter(|leaf| leaf.is_sure()).filter_map(|leaf| {
            match &leaf.guess.as_ref()?.meaning {
                Meaning::Target(name) => Some(name.as_str()),
                _ => None,
            }
        });
        let first = targets.next()?;
        targets.next().is_none().then_some(first)
    }

    fn whole(&self, value: &Value, pointer: &str, depth: usize, around: Around) -> String {
        match value {
            Value::Object(members) if !members.is_empty() => {
                let members = members.iter().map(|(name, value)| {
                    let value = self.one(value, &below(pointer, name), depth + 1, around);
                    (json_text(name), value)
                });
                object(members.collect(), depth)
            }
            Value::Array(items) if !items.is_empty() => {
                let items = items.iter().enumerate();
                let items = items.map(|(index, value)| {
                    self.one(value, &format!("{pointer}/{index}"), depth + 1, around)
                });
                list(items.collect(), depth)
            }
            leaf => self.leaf(leaf, pointer, around),
        }
    }

    fn leaf(&self, value: &Value, pointer: &str, around: Around) -> String {
        let sure = self.leaves.get(pointer).filter(|leaf| leaf.is_sure());
        if let Some((leaf, guess)) = sure.and_then(|leaf| Some((leaf, leaf.guess.as_ref()?))) {
            let words = self.words.get(pointer).map_or("", String::as_str);
            let expression = expression(leaf, guess, around, words);
            return json_text(&format!("{{{{ {expression} }}}}"));
        }
        constant(value)
    }

    /// Writes a value that may be another without a job.
    fn both(&self, with: &Value, without: &Value, pointer: &str, depth: usize) -> String {
        if self.gone_with(pointer).is_some() && with.is_object() {
            return self.one(with, pointer, depth, Around { in_job: false });
        }
        match (with, without) {
            (Value::Object(one), Value::Object(other)) => {
                let mut members = Vec::new();
                let (mut only_with, mut only_without) = (Vec::new(), Vec::new());
                for (name, value) in one {
                    let pointer = below(pointer, name);
                    match other.get(name) {
                        Some(other) => members.push((
                            json_text(name),
                            self.both(value, other, &pointer, depth + 1),
                        )),
                        None => only_with.push((
                            json_text(name),
                            self.one(value, &pointer, depth + 2, Around { in_job: true }),
                        )),
                    }
                }
                for (name, value) in other.iter().filter(|(name, _)| !one.contains_key(*name)) {
                    let around = Around { in_job: false };
                    let value = self.one(value, &below(pointer, name), depth + 2, around);
                    only_without.push((json_text(name), value));
                }
                self.grouped(members, only_with, only_without, depth)
            }
            (Value::Array(one), Value::Array(other)) if one.len() == other.len() => {
                let items = one.iter().zip(other).enumerate();
                let items = items.map(|(index, (one, other))| {
                    self.both(one, other, &format!("{pointer}/{index}"), depth + 1)
                });
                list(items.collect(), depth)
            }
            _ if is_leaf(with) && is_leaf(without) => {
                let is_sure = self.leaves.get(pointer).is_some_and(|leaf| leaf.is_sure());
                match is_sure || with == without {
                    true => self.leaf(with, pointer, Around { in_job: false }),
                    false => self.chosen(with, without, pointer, depth),
                }
            }
            _ => self.chosen(with, without, pointer, depth),
        }
    }

    fn chosen(&self, with: &Value, without: &Value, pointer: &str, depth: usize) -> String {
        let one = self.one(with, pointer, depth + 1, Around { in_job: true });
        let other = self.one(without, pointer, depth + 1, Around { in_job: false });
        let members = vec![
            (json_text("{% if job %}"), one),
            (json_text("{% else %}"), other),
        ];
        object(members, depth)
    }

    fn grouped(
        &self,
        mut members: Vec<(String, String)>,
        only_with: Vec<(String, String)>,
        only_without: Vec<(String, String)>,
        depth: usize,
    ) -> String {
        if !only_with.is_empty() {
            members.push((json_text("{% if job %}"), object(only_with, depth + 1)));
            if !only_without.is_empty() {
                members.push((json_text("{% else %}"), object(only_without, depth + 1)));
            }
        } else if !only_without.is_empty() {
            members.push((
                json_text("{% if not job %}"),
                object(only_without, depth + 1),
            ));
        }
        object(members, depth)
    }
}

fn is_leaf(value: &Value) -> bool {
    match value {
        Value::Object(members) => members.is_empty(),
        Value::Array(items) => items.is_empty(),
        _ => true,
    }
}

fn below(pointer: &str, name: &str) -> String {
    format!("{pointer}/{}", escaped(name))
}

/// Writes a value as it is; text that would be taken for an expression is put into one.
fn constant(value: &Value) -> String {
    match value {
        Value::String(text)
            if text.contains("{{") || text.contains("{%") || text.contains("{#") =>
        {
            json_text(&format!("{{{{ {} }}}}", quoted(text)))
        }
        other => other.to_string(),
    }
}

fn json_text(text: &str) -> String {
    Value::from(text).to_string()
}

fn object(members: Vec<(String, String)>, depth: usize) -> String {
    let members = members
        .into_iter()
        .map(|(name, value)| format!("{name}: {value}"));
    block('{', members.collect(), '}', depth)
}

fn list(items: Vec<String>, depth: usize) -> String {
    block('[', items, ']', depth)
}

fn block(open: char, lines: Vec<String>, close: char, depth: usize) -> String {
    if lines.is_empty() {
        return format!("{open}{close}");
    }
    let indent = "  ".repeat(depth + 1);
    let lines: Vec<String> = lines
        .into_iter()
        .map(|line| format!("{indent}{line}"))
        .collect();
    format!(
        "{open}\n{}\n{}{close}",
        lines.join(",\n"),
        "  ".repeat(depth)
    )
}
