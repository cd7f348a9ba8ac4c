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

/// Gives the text of a dialect with one route, `GET /`, of this body.
fn with_body(body: &str) -> String {
    format!(
        "[auth]\nscheme = \"none\"\n\n[problem]\nbody = '\"{{{{ status }}}}\"'\n\n\
         [words.state]\nidle = \"Ready\"\nprocessing = \"Busy\"\nstopped = \"Help!\"\n\n\
         [[routes]]\nmethod = \"GET\"\npath = \"/\"\nbody = '''\n{body}'''\n"
    )
}
