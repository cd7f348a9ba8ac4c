//! The opening of a WebSocket: what the host checks and what it answers.
//!
//! # Source
//! RFC 6455 section 4.2.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use http::header::{
    CONNECTION, CONTENT_TYPE, HeaderMap, HeaderName, HeaderValue, SEC_WEBSOCKET_ACCEPT,
    SEC_WEBSOCKET_KEY, SEC_WEBSOCKET_PROTOCOL, SEC_WEBSOCKET_VERSION, UPGRADE,
};
use http::{Method, StatusCode, Version, request};
use hyper::upgrade::OnUpgrade;
use tokio_tungstenite::tungstenite::handshake::derive_accept_key;

use crate::dialect::{Answer, Problem, WebSocketPlan};

/// Accepts the opening of a WebSocket: gives the connection as it will be after the answer, and
/// that answer, made from the route's own fields.
///
/// A client that offers subprotocols without the one the host speaks, or none, is accepted without
/// one: whether that will do is for the client to say (section 4.2.2, step 5).
///
/// # Errors
/// - 426 with `Upgrade` when the request asks for no WebSocket (RFC 9110 section 15.5.22), and with
///   `Sec-WebSocket-Version` when it asks for another version (RFC 6455 section 4.4);
/// - 400 when the key is none.
pub(super) fn accept(
    head: &mut request::Parts,
    plan: &WebSocketPlan,
    route: Answer,
) -> Result<(OnUpgrade, Answer), Problem> {
    let asked = head.method == Method::GET
        && head.version == Version::HTTP_11
        && has_token(&head.headers, &CONNECTION, "upgrade")
        && has_token(&head.headers, &UPGRADE, "websocket");
    let upgrade = head.extensions.remove::<OnUpgrade>();
    let Some(upgrade) = upgrade.filter(|_| asked) else {
        let detail = "this is a WebSocket, and the request asks for none";
        return Err(upgrade_required(detail));
    };
    if only(&head.headers, &SEC_WEBSOCKET_VERSION) != Some("13") {
        let problem = upgrade_required("version 13 of the WebSocket protocol is spoken here");
        return Err(problem.with_header(SEC_WEBSOCKET_VERSION, HeaderValue::from_static("13")));
    }
    let key = only(&head.headers, &SEC_WEBSOCKET_KEY).filter(|key| is_key(key));
    let Some(key) = key else {
        let detail = "Sec-WebSocket-Key is not 16 bytes in base64";
        return Err(Problem::new(StatusCode::BAD_REQUEST, detail));
    };
    let accept =
        HeaderValue::try_from(derive_accept_key(key.as_bytes())).expect("base64 is visible ASCII");
    let mut headers = route.headers;
    // The route's type is that of its messages.
    headers.remove(CONTENT_TYPE);
    headers.insert(CONNECTION, HeaderValue::from_static("upgrade"));
    headers.insert(UPGRADE, HeaderValue::from_static("websocket"));
    headers.insert(SEC_WEBSOCKET_ACCEPT, accept);
    if let Some(name) = &plan.subprotocol
        && offers(&head.headers, name)
    {
        headers.insert(SEC_WEBSOCKET_PROTOCOL, name.clone());
    }
    let answer = Answer {
        status: StatusCode::SWITCHING_PROTOCOLS,
        headers,
        body: bytes::Bytes::new(),
    };
    Ok((upgrade, answer))
}

fn upgrade_required(detail: &str) -> Problem {
    // Who sends `Upgrade` names it in `Connection` too (RFC 9110 section 7.8).
    Problem::new(StatusCode::UPGRADE_REQUIRED, detail)
        .with_header(UPGRADE, HeaderValue::from_static("websocket"))
        .with_header(CONNECTION, HeaderValue::from_static("upgrade"))
}

/// Gives the value of a field that is there once.
fn only<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    let mut values = headers.get_all(name).iter();
    let value = values.next()?.to_str().ok()?;
    values.next().is_none().then(|| value.trim_ascii())
}

/// Gives the elements of a list that may stand in several fields (RFC 9110 section 5.6.1).
fn elements<'a>(headers: &'a HeaderMap, name: &HeaderName) -> impl Iterator<Item = &'a str> {
    headers
        .get_all(name)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(str::trim_ascii)
}

fn has_token(headers: &HeaderMap, name: &HeaderName, token: &str) -> bool {
    elements(headers, name).any(|element| element.eq_ignore_ascii_case(token))
}

/// Tells whether the client offers a subprotocol; the names are compared exactly (section 4.1).
fn offers(headers: &HeaderMap, name: &HeaderValue) -> bool {
    elements(headers, &SEC_WEBSOCKET_PROTOCOL).any(|offered| offered == name)
}

/// Tells whether a key is 16 bytes in base64 (section 4.2.1, item 5).
fn is_key(key: &str) -> bool {
    STANDARD.decode(key).is_ok_and(|bytes| bytes.len() == 16)
}
