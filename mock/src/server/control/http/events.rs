//! `/events`

use axum::extract::State;
use axum::response::Response;
use serde_json::{Map, Value};

use super::super::Control;
use super::answer::{Told, ok};
use super::request::Json;

pub(super) async fn issue(
    State(control): State<Control>,
    Json(event): Json<Map<String, Value>>,
) -> Result<Response, Told> {
    Ok(ok(&control.issue(event)?))
}
