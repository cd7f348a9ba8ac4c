//! `/clock`

use axum::extract::State;
use axum::response::Response;

use super::super::{ClockSetting, Control};
use super::answer::{Told, ok};
use super::request::Json;
use crate::control::Jump;

pub(super) async fn show(State(control): State<Control>) -> Response {
    ok(&control.clock())
}

pub(super) async fn set(
    State(control): State<Control>,
    Json(setting): Json<ClockSetting>,
) -> Result<Response, Told> {
    Ok(ok(&control.set_clock(setting)?))
}

pub(super) async fn jump(
    State(control): State<Control>,
    Json(jump): Json<Jump>,
) -> Result<Response, Told> {
    let reading = control.jump(jump)?;
    control.settled().await;
    Ok(ok(&reading))
}
