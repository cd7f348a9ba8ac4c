//! The control API over HTTP, on a listener of its own.
//!
//! Owns: the listener, the resources, their bodies.
//! Does not own: what they do ([`Control`]), who is let in ([`Gate`]).
//!
//! # Source
//! RFC 9110 for methods and statuses, RFC 9457 for errors. There is no CORS: pages of other origins
//! are not to use it, and a change needs a media type that they cannot send without asking first
//! (WHATWG Fetch, "CORS-safelisted request-header").

mod answer;
mod bench;
mod clock;
mod events;
mod guard;
mod kinds;
mod listener;
mod log;
mod raised;
mod reading;
mod request;

use std::sync::Arc;

use axum::Router;
use axum::middleware;
use axum::routing::{get, post};
use http::{Method, StatusCode, Uri};

use super::Control;
use crate::control::Gate;
use crate::dialect::Problem;

use answer::Told;

pub(in crate::server) use listener::ControlListener;

/// Gives the resources.
fn router(control: Control, gate: Gate) -> Router {
    Router::new()
        .route(bench::PATH, get(bench::show))
        .route("/truth", get(reading::truth))
        .route("/clock", get(clock::show).put(clock::set))
        .route("/clock/jump", post(clock::jump))
        .route(
            "/faults",
            get(raised::faults)
                .post(raised::raise_fault)
                .delete(raised::clear_faults),
        )
        .route(
            "/faults/{id}",
            get(raised::fault).delete(raised::clear_fault),
        )
        .route("/fault-kinds", get(kinds::faults))
        .route(
            "/drifts",
            get(raised::drifts)
                .post(raised::raise_drift)
                .delete(raised::clear_drifts),
        )
        .route(
            "/drifts/{id}",
            get(raised::drift).delete(raised::clear_drift),
        )
        .route("/drift-kinds", get(kinds::drifts))
        .route("/events", post(events::issue))
        .route("/requests", get(reading::requests))
        .route("/connections", get(reading::connections))
        .route("/log", get(log::show))
        .route("/log/stream", get(log::stream))
        .fallback(nowhere)
        .method_not_allowed_fallback(other_method)
        .layer(middleware::from_fn_with_state(Arc::new(gate), guard::admit))
        .with_state(control)
}

async fn nowhere(uri: Uri) -> Told {
    let detail = format!(
        "there is no `{}` [there are / for people, /truth, /clock, /clock/jump, /faults, /fault-kinds, /drifts, \
         /drift-kinds, /events, /requests, /connections, /log and /log/stream]",
        uri.path()
    );
    Told(Problem::new(StatusCode::NOT_FOUND, detail))
}

async fn other_method(method: Method, uri: Uri) -> Told {
    let detail = format!(
        "`{}` does not take {method} [the field Allow says what it takes]",
        uri.path()
    );
    Told(Problem::new(StatusCode::METHOD_NOT_ALLOWED, detail))
}
