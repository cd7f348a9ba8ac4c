//! A dialect as an OpenAPI document, for people and tools that read one.
//!
//! # Source
//! OpenAPI Specification 3.1 (section names below are its own), whose schemas are JSON Schema of
//! draft 2020-12.

mod operation;
mod request;
mod responses;
mod security;
mod shape;
#[cfg(test)]
mod tests;
mod truths;
mod trying;

use indexmap::IndexMap;
use serde_json::{Map, Value, json};

use super::{Dialect, RouteId};
use operation::Operation;
use shape::Shape;
use truths::Side;

/// The version of the specification that is kept to.
const OPENAPI: &str = "3.1.1";

impl Dialect {
    /// Describes the version as an OpenAPI 3.1 document, `server` being the URL it is served at.
    ///
    /// The bodies' schemas are inferred from what the bodies are in sample truths and in moments of
    /// built-in scenarios: types are united, members that are always there are required, and an
    /// object whose keys are heaters' names may have any. Schemas allow further members everywhere.
    /// HEAD and OPTIONS, which every path answers, are not in it.
    pub fn describe_openapi(&self, server: &str) -> Value {
        let mut document = Document {
            dialect: self,
            schemas: Map::new(),
            paths: IndexMap::new(),
        };
        document.schemas.insert("Problem".to_owned(), problem(self));
        for index in 0..self.routes.len() {
            document.add(RouteId(index));
        }
        document.written(server)
    }
}

/// Is a document in the making.
struct Document<'a> {
    dialect: &'a Dialect,
    schemas: Map<String, Value>,
    /// Operations by path and method.
    paths: IndexMap<String, IndexMap<String, Operation>>,
}

impl Document<'_> {
    /// Adds a route: an operation of its own, or a further case of one (see `match`).
    fn add(&mut self, id: RouteId) {
        let route = self.dialect.of(id);
        let method = route.method.as_str().to_lowercase();
        let path = route.path.replace("{*", "{");
        let operation = Operation::of(self.dialect, id, &mut self.schemas);
        let methods = self.paths.entry(path).or_default();
        match methods.get_mut(&method) {
            Some(known) => known.unite(operation),
            None => {
                methods.insert(method, operation);
            }
        }
    }

    fn written(self, server: &str) -> Value {
        let mut ids: Vec<String> = Vec::new();
        let mut paths = Map::new();
        for (path, methods) in &self.paths {
            let mut item = Map::new();
            for (method, operation) in methods {
                let id = operation_id(method, path);
                let known = ids.iter().filter(|known| **known == id).count();
                ids.push(id.clone());
                let id = if known > 0 {
                    format!("{id}-{}", known + 1)
                } else {
                    id
                };
                item.insert(method.clone(), operation.written(&id));
            }
            paths.insert(path.clone(), item.into());
        }
        let dialect = self.dialect;
        let mut components = Map::new();
        components.insert("schemas".to_owned(), self.schemas.into());
        let mut document = json!({
            "openapi": OPENAPI,
            "info": {
                "title": dialect.title().unwrap_or(dialect.name()),
                "version": dialect.version(),
                "description": "A mock printer host. Schemas of bodies are inferred from samples: \
                                what they ask for was there in each of them.",
            },
            "servers": [{ "url": server }],
        });
        if let Some(scheme) = security::scheme(dialect.auth()) {
            document["security"] = json!([{ security::NAME: [] }]);
            components.insert(
                "securitySchemes".to_owned(),
                json!({ security::NAME: scheme }),
            );
        }
        document["paths"] = paths.into();
        document["components"] = components.into();
        document
    }
}

/// Names an operation: `get-heaters-name`.
fn operation_id(method: &str, path: &str) -> String {
    let words = path.split(|letter: char| !letter.is_ascii_alphanumeric());
    let words: Vec<&str> = words.filter(|word| !word.is_empty()).collect();
    [&[method], words.as_slice()].concat().join("-")
}

/// Infers how problems are written.
fn problem(dialect: &Dialect) -> Value {
    let mut shape = Shape::default();
    for status in [400, 401, 404, 409, 422] {
        let status = http::StatusCode::from_u16(status).unwrap_or_default();
        let problem = super::Problem::new(status, "why");
        for problem in [problem.clone(), problem.at("/where")] {
            let body = dialect.problem.render(&problem).unwrap_or_default();
            if let Ok(value) = serde_json::from_slice(&body) {
                shape.add(&value, Side::Scenario);
            }
        }
    }
    shape.schema()
}
