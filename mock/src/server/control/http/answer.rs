//! Bodies of answers.

use axum::body::Body;
use axum::response::{IntoResponse, Response};
use http::header::{CACHE_CONTROL, CONTENT_TYPE, LOCATION};
use http::{HeaderValue, StatusCode};
use serde::Serialize;
use serde_json::json;

use super::super::ControlError;
use crate::dialect::Problem;
use crate::server::ClockError;

/// Is a problem that is told (RFC 9457).
#[derive(Debug)]
pub(super) struct Told(pub(super) Problem);

impl IntoResponse for Told {
    fn into_response(self) -> Response {
        let Self(problem) = self;
        let mut body = json!({
            "title": problem.status.canonical_reason().unwrap_or("Error"),
            "status": problem.status.as_u16(),
            "detail": problem.detail,
        });
        if let Some(pointer) = problem.pointer {
            body["pointer"] = pointer.into();
        }
        let kind = HeaderValue::from_static("application/problem+json");
        let mut response = answer(problem.status, kind, body.to_string());
        response.headers_mut().extend(problem.headers);
        response
    }
}

impl From<ControlError> for Told {
    /// Says why a change is not made: 409 when it could be at another time, 404 when the thing does
    /// not exist, 422 when what was asked for can never be.
    ///
    /// # Source
    /// RFC 9110 section 15.5.10 (409), section 15.5.5 (404), section 15.5.21 (422).
    fn from(error: ControlError) -> Self {
        let status = match &error {
            ControlError::Clock(ClockError::Back { .. }) | ControlError::TooMany { .. } => {
                StatusCode::CONFLICT
            }
            ControlError::NotRaised { .. } => StatusCode::NOT_FOUND,
            ControlError::Log { .. } => StatusCode::INTERNAL_SERVER_ERROR,
            _ => StatusCode::UNPROCESSABLE_ENTITY,
        };
        let problem = Problem::new(status, error.to_string());
        Self(match &error {
            ControlError::Event(error) if !error.field.is_empty() => {
                problem.at(format!("/{}", error.field.replace('.', "/")))
            }
            ControlError::Scope(error) => problem.at(format!("/scope/{}", error.key)),
            _ => problem,
        })
    }
}

/// Gives a good answer in JSON.
pub(super) fn ok(body: &impl Serialize) -> Response {
    let kind = HeaderValue::from_static("application/json");
    answer(StatusCode::OK, kind, super::super::change_log::json(body))
}

/// Says where something is that was made, and what it is (RFC 9110 section 15.3.2).
pub(super) fn created(place: &str, body: &impl Serialize) -> Response {
    let mut response = ok(body);
    *response.status_mut() = StatusCode::CREATED;
    // Made of a fixed word and a number.
    if let Ok(place) = HeaderValue::try_from(place) {
        response.headers_mut().insert(LOCATION, place);
    }
    response
}

pub(super) fn answer(status: StatusCode, kind: HeaderValue, body: String) -> Response {
    let mut response = Response::new(Body::from(body));
    *response.status_mut() = status;
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, kind);
    // It is of this moment only (RFC 9111 section 5.2.2.5).
    headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}
