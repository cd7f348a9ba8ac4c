//! `/truth`, `/requests` and `/connections`

use axum::extract::State;
use axum::response::Response;
use http::Uri;
use serde_json::json;

use super::super::Control;
use super::answer::{Told, ok};
use super::request::number;

/// How many exchanges are shown when nothing is said, and how many at most.
const SHOWN: u64 = 100;
const MOST_SHOWN: u64 = 1000;

pub(super) async fn truth(State(control): State<Control>) -> Response {
    ok(&*control.truth())
}

pub(super) async fn requests(State(control): State<Control>, uri: Uri) -> Result<Response, Told> {
    let since = number(&uri, "since", 0)?;
    let limit = number(&uri, "limit", SHOWN)?.min(MOST_SHOWN);
    let limit = usize::try_from(limit).unwrap_or(usize::MAX);
    let (requests, last) = control.requests(since, limit);
    Ok(ok(&json!({ "last": last, "requests": requests })))
}

pub(super) async fn connections(State(control): State<Control>) -> Response {
    ok(&json!({ "connections": control.connections() }))
}
