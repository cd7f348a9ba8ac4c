//! Tests of whole dialects.

mod bodies;
mod every;
mod generated;
mod http_slips;
mod language;
mod mqtt;
mod page;
mod plain;
mod properties;
mod push;
mod schema;
mod senml;
mod slips;
mod slips_own;

use http::{HeaderMap, Method};
use serde_json::Value;

use super::{Access, Dialect, Matched, Request, Routed};

/// Routes a request without fields and a key.
fn route(dialect: &Dialect, method: &Method, path: &str) -> Routed {
    let request = Request {
        method,
        path,
        query: None,
        headers: &HeaderMap::new(),
        body: b"",
    };
    dialect.route(&request, &Access::OPEN)
}

/// Gives the route that shows a body at a path.
fn shown_at(dialect: &Dialect, path: &str) -> Matched {
    match route(dialect, &Method::GET, path) {
        Routed::Body(matched) | Routed::Push(matched) => matched,
        other => panic!("{path}: {other:?}"),
    }
}

/// Gives JSON bodies of every route of every built-in dialect, at moments from all over the built-in
/// scenarios, with the request each answers.
pub(crate) fn json_bodies() -> Vec<(String, Value)> {
    let mut bodies = Vec::new();
    for dialect in every::DIALECTS.iter() {
        let (name, version) = (dialect.name(), dialect.version());
        for (_, truth) in every::TRUTHS.iter().step_by(97) {
            for said in every::everything(dialect, truth, &["extruder"]) {
                if let Ok(body) = serde_json::from_slice::<Value>(&said.answer.body) {
                    bodies.push((format!("{name} {version} {}", said.request), body));
                }
            }
        }
    }
    bodies.sort_by_cached_key(|(request, body)| (request.clone(), body.to_string()));
    bodies.dedup();
    bodies
}

/// Gives the text of a dialect with one route, `GET /`, of this body.
fn with_body(body: &str) -> String {
    format!(
        "[auth]\nscheme = \"none\"\n\n[problem]\nbody = '\"{{{{ status }}}}\"'\n\n\
         [words.state]\nidle = \"Ready\"\nprocessing = \"Busy\"\nstopped = \"Help!\"\n\n\
         [[routes]]\nmethod = \"GET\"\npath = \"/\"\nbody = '''\n{body}'''\n"
    )
}
