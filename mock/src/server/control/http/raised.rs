//! `/faults` and `/drifts`

use axum::extract::{Path, State};
use axum::response::Response;
use http::StatusCode;
use serde_json::json;

use super::super::{Control, ControlError, ShownDrift, ShownFault};
use super::answer::{Told, created, ok};
use super::request::{Json, id};
use crate::drift::Drift;
use crate::fault::ScopedFault;

pub(super) async fn faults(State(control): State<Control>) -> Response {
    ok(&json!({ "faults": control.faults() }))
}

pub(super) async fn fault(
    State(control): State<Control>,
    Path(name): Path<String>,
) -> Result<Response, Told> {
    Ok(ok(&find_fault(&control, id(&name))?))
}

pub(super) async fn raise_fault(
    State(control): State<Control>,
    Json(fault): Json<ScopedFault>,
) -> Result<Response, Told> {
    let id = control.raise_fault(fault)?;
    // Whoever has the answer finds the fault in force.
    control.settled().await;
    let shown = find_fault(&control, id)?;
    Ok(created(&format!("/faults/{id}"), &shown))
}

pub(super) async fn clear_fault(
    State(control): State<Control>,
    Path(name): Path<String>,
) -> Result<StatusCode, Told> {
    control.clear_fault(id(&name))?;
    control.settled().await;
    Ok(StatusCode::NO_CONTENT)
}

pub(super) async fn clear_faults(State(control): State<Control>) -> Result<StatusCode, Told> {
    control.clear_faults()?;
    control.settled().await;
    Ok(StatusCode::NO_CONTENT)
}

pub(super) async fn drifts(State(control): State<Control>) -> Response {
    ok(&json!({ "drifts": control.drifts() }))
}

pub(super) async fn drift(
    State(control): State<Control>,
    Path(name): Path<String>,
) -> Result<Response, Told> {
    Ok(ok(&find_drift(&control, id(&name))?))
}

pub(super) async fn raise_drift(
    State(control): State<Control>,
    Json(drift): Json<Drift>,
) -> Result<Response, Told> {
    let id = control.raise_drift(drift)?;
    let shown = find_drift(&control, id)?;
    Ok(created(&format!("/drifts/{id}"), &shown))
}

pub(super) async fn clear_drift(
    State(control): State<Control>,
    Path(name): Path<String>,
) -> Result<StatusCode, Told> {
    control.clear_drift(id(&name))?;
    Ok(StatusCode::NO_CONTENT)
}

pub(super) async fn clear_drifts(State(control): State<Control>) -> Result<StatusCode, Told> {
    control.clear_drifts()?;
    Ok(StatusCode::NO_CONTENT)
}

fn find_fault(control: &Control, id: u64) -> Result<ShownFault, ControlError> {
    let mut raised = control.faults().into_iter();
    let found = raised.find(|fault| fault.id == Some(id));
    found.ok_or(ControlError::NotRaised { what: "fault", id })
}

fn find_drift(control: &Control, id: u64) -> Result<ShownDrift, ControlError> {
    let mut raised = control.drifts().into_iter();
    let found = raised.find(|drift| drift.id == Some(id));
    found.ok_or(ControlError::NotRaised { what: "drift", id })
}
