//! Lets requests in.

use std::sync::Arc;

use axum::extract::{Request, State};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use http::HeaderValue;
use http::header::WWW_AUTHENTICATE;

use super::answer::Told;
use super::bench;
use crate::control::{Gate, TurnedAway};
use crate::dialect::Problem;

/// Lets a request in, or says why not.
///
/// # Source
/// RFC 6750 section 3 and 3.1: the challenge, with an error code only for a key that was shown.
pub(super) async fn admit(State(gate): State<Arc<Gate>>, request: Request, next: Next) -> Response {
    let admitted = match request.uri().path() {
        // A browser that opens a page has no key to show, and the page holds no data.
        bench::PATH => gate.admit_without_key(request.headers()),
        _ => gate.admit(request.headers()),
    };
    let Err(why) = admitted else {
        return next.run(request).await;
    };
    let problem = Problem::new(why.status(), why.to_string());
    let challenge = match why {
        TurnedAway::NoKey => "Bearer realm=\"control\"",
        TurnedAway::WrongKey => "Bearer realm=\"control\", error=\"invalid_token\"",
        TurnedAway::NoHost | TurnedAway::OtherHost | TurnedAway::OtherOrigin => {
            return Told(problem).into_response();
        }
    };
    let challenge = HeaderValue::from_static(challenge);
    Told(problem.with_header(WWW_AUTHENTICATE, challenge)).into_response()
}
