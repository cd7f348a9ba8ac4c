//! The form of an answer that the dialect's `[http]` asks for.

use axum::body::Body;
use axum::response::Response;
use http::header::{CONNECTION, DATE};
use http::{HeaderValue, Method, StatusCode, Version};

use super::body::{Chunks, Pieces};
use super::date::real_date;
use crate::dialect::{Answer, HttpBehaviour, LengthForm};

/// Makes the response of an answer with a whole body.
///
/// `wants_chunks` asks for chunks whatever the dialect says. To HEAD it has the fields of GET, the length told in the same way (RFC 9110 section 9.3.2).
pub(super) fn whole(
    http: &HttpBehaviour,
    method: &Method,
    client: Version,
    wants_chunks: bool,
    answer: Answer,
) -> Response {
    // A client of HTTP/1.0 knows no chunks (RFC 9112 section 6.1).
    let wants_chunks = wants_chunks && client >= Version::HTTP_11;
    let in_chunks = wants_chunks || http.length_for(client) == LengthForm::Chunked;
    let chunked = in_chunks && !answer.body.is_empty();
    let answer = match (chunked, method == Method::HEAD) {
        // The connection writes no body to HEAD, and no length of a body that does not tell its own.
        (true, _) => return response(answer, |body| Body::new(Chunks(body))),
        (false, true) => answer.without_body(),
        (false, false) => answer,
    };
    response(answer, |body| Body::new(Pieces(body)))
}

fn response(answer: Answer, body: impl FnOnce(bytes::Bytes) -> Body) -> Response {
    let mut response = Response::new(body(answer.body));
    *response.status_mut() = answer.status;
    *response.headers_mut() = answer.headers;
    response
}

/// Says that an answer is the last one of its connection.
///
/// # Source
/// RFC 9112 section 9.6.
pub(super) fn last_of_connection(mut response: Response) -> Response {
    let close = HeaderValue::from_static("close");
    response.headers_mut().insert(CONNECTION, close);
    response
}

/// Makes a response the `nth` one of its connection: version, `Connection`, `Date`.
///
/// # Source
/// RFC 9112 section 9.6: `close` on the last answer.
pub(super) fn of_connection(
    http: &HttpBehaviour,
    client: Version,
    nth: u64,
    response: &mut Response,
) {
    if response.status() == StatusCode::SWITCHING_PROTOCOLS {
        // From here on the connection is not HTTP's any more (RFC 9110 section 7.8).
        return;
    }
    *response.version_mut() = http.version();
    if http.closes_after(nth) {
        let close = HeaderValue::from_static("close");
        response.headers_mut().insert(CONNECTION, close);
        // To a client of HTTP/1.0 the library adds `keep-alive` to a newer answer.
        *response.version_mut() = http.version().min(client);
    }
    if let Some(date) = http.wrong_date(real_date()) {
        response.headers_mut().insert(DATE, date);
    }
}
