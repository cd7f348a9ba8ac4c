//! Which parts and words the bodies and expressions of a file use.
//!
//! Every string of the file is looked at wherever it stands, so that a new kind of table needs
//! nothing here.

use std::collections::{HashMap, HashSet};

use toml::{Table, Value};

use super::Warning;
use super::document::Document;
use crate::dialect::expression::{self, Expression};
use crate::dialect::json::{self, Json};
use crate::dialect::place::Site;
use crate::dialect::text::{self, Directive, Segment, Text};

/// Keys whose strings are for people.
const PROSE: [&str; 3] = ["title", "version", "summary"];

/// Is what one string uses.
#[derive(Debug, Default)]
struct Used {
    parts: Vec<String>,
    /// Dotted names, each with whether something stands in when it has no value.
    names: Vec<(String, bool)>,
}

/// Is what all strings of a file use.
#[derive(Debug, Default)]
pub(super) struct Uses {
    /// By bodies and expressions.
    all: Used,
    /// By the parts of each name.
    parts: HashMap<String, Used>,
}

impl Uses {
    pub(super) fn of(file: &Table) -> Self {
        let mut uses = Self::default();
        uses.layer(file);
        uses
    }

    fn layer(&mut self, layer: &Table) {
        for (key, value) in layer {
            match (key.as_str(), value) {
                ("words", _) => {}
                ("parts", Value::Table(parts)) => {
                    for (name, part) in parts {
                        let used = self.parts.entry(name.clone()).or_default();
                        used.value(part);
                    }
                }
                ("versions", Value::Array(versions)) => {
                    let versions = versions.iter().filter_map(Value::as_table);
                    versions.for_each(|version| self.layer(version));
                }
                (name, value) if !PROSE.contains(&name) => self.all.value(value),
                _ => {}
            }
        }
    }

    /// Gives the names that reach the wire or are looked at, parts included.
    fn names(&self) -> impl Iterator<Item = &(String, bool)> {
        let parts = self.parts.values().flat_map(|used| &used.names);
        self.all.names.iter().chain(parts)
    }

    /// Tells whether some expression uses a word table.
    pub(super) fn has_table(&self, table: &str) -> bool {
        self.of_table(table).next().is_some()
    }

    /// Tells whether every expression that uses a word table has something to stand in for a word
    /// that is not there.
    pub(super) fn covers(&self, table: &str) -> bool {
        self.of_table(table).all(|(_, is_covered)| *is_covered)
    }

    /// Tells whether some expression names a word itself.
    pub(super) fn has_word(&self, table: &str, word: &str) -> bool {
        let full = format!("words.{table}.{word}");
        self.names().any(|(name, _)| *name == full)
    }

    fn of_table(&self, table: &str) -> impl Iterator<Item = &(String, bool)> {
        let whole = format!("words.{table}");
        self.names().filter(move |(name, _)| {
            // `words` by itself is looked into by a name that only the truth knows.
            name == "words"
                || name
                    .strip_prefix(&whole)
                    .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        })
    }

    /// Warns of parts that no body includes, be it through another part.
    pub(super) fn look_for_unused_parts(
        &self,
        document: &Document<'_>,
        warnings: &mut Vec<Warning>,
    ) {
        let mut used: HashSet<&str> = HashSet::new();
        let mut open: Vec<&str> = self.all.parts.iter().map(String::as_str).collect();
        while let Some(name) = open.pop() {
            if used.insert(name)
                && let Some(part) = self.parts.get(name)
            {
                open.extend(part.parts.iter().map(String::as_str));
            }
        }
        let mut look = |layer: &str, parts: &mut dyn Iterator<Item = &String>| {
            for name in parts.filter(|name| !used.contains(name.as_str())) {
                let message = "no body includes this part".to_owned();
                warnings.push(document.warning(layer, &[name], message));
            }
        };
        look("parts", &mut document.raw.parts.keys());
        for (index, version) in document.raw.versions.iter().enumerate() {
            let layer = format!("versions[{index}].parts");
            look(&layer, &mut version.get_ref().parts.keys());
        }
    }
}

impl Used {
    fn value(&mut self, value: &Value) {
        match value {
            Value::String(text) => self.text(text),
            Value::Array(values) => values.iter().for_each(|value| self.value(value)),
            Value::Table(table) => {
                let told = table
                    .iter()
                    .filter(|(key, _)| !PROSE.contains(&key.as_str()));
                told.for_each(|(_, value)| self.value(value));
            }
            _ => {}
        }
    }

    /// Takes a string for what it can be: a JSON body, a phrase or a text with templates in it, or
    /// an expression.
    fn text(&mut self, text: &str) {
        if !text.contains("{{") && !text.contains("{%") {
            return self.expression(text);
        }
        if let Ok(body) = json::parse(text) {
            return self.json(&body);
        }
        let environment = expression::environment();
        let Ok(template) = environment.template_from_str(text) else {
            return;
        };
        let is_covered = text.contains("default");
        let names = template.undeclared_variables(true).into_iter();
        self.names.extend(names.map(|name| (name, is_covered)));
    }

    fn json(&mut self, json: &Json) {
        match json {
            Json::Plain(_) => {}
            Json::String(text) => self.string(&text.value),
            Json::Array(items) => items.iter().for_each(|item| self.json(item)),
            Json::Object(members) => {
                for (name, value) in members {
                    self.string(&name.value);
                    self.json(value);
                }
            }
        }
    }

    fn string(&mut self, string: &str) {
        match text::parse(string) {
            Ok(Text::Typed(source)) => self.expression(&source),
            Ok(Text::Mixed(segments)) => {
                for segment in segments {
                    if let Segment::Expression(source) = segment {
                        self.expression(&source);
                    }
                }
            }
            Ok(Text::Directive(directive)) => match directive {
                Directive::If(source)
                | Directive::Elif(source)
                | Directive::For { list: source, .. }
                | Directive::With { value: source, .. } => self.expression(&source),
                Directive::Include(part) => self.parts.push(part),
                Directive::Else => {}
            },
            Ok(Text::Plain(_)) | Err(_) => {}
        }
    }

    fn expression(&mut self, source: &str) {
        let site = Site {
            field: "".into(),
            line: 0,
            pointer: String::new(),
        };
        // What is no expression is a name or a header field's value.
        if let Ok(expression) = Expression::compile(source, site) {
            let is_covered = source.contains("default");
            let names = expression.names().into_iter();
            self.names.extend(names.map(|name| (name, is_covered)));
        }
    }
}
