//! Reads requests.

use axum::body::Body;
use axum::extract::{FromRequest, Request};
use http::header::CONTENT_TYPE;
use http::{HeaderMap, StatusCode, Uri};
use http_body_util::{BodyExt, LengthLimitError, Limited};
use serde::de::DeserializeOwned;
use serde_json::error::Category;

use super::answer::Told;
use crate::dialect::Problem;
use crate::scenario::unknown_word;
use crate::server::limits::{MAX_BODY_BYTES, READ_TIMEOUT};

/// Is a request's body, read as JSON.
#[derive(Debug)]
pub(super) struct Json<T>(pub(super) T);

impl<S: Sync, T: DeserializeOwned> FromRequest<S> for Json<T> {
    type Rejection = Told;

    async fn from_request(request: Request, _: &S) -> Result<Self, Told> {
        if !is_json(request.headers()) {
            let detail = "the body has to be JSON [send Content-Type: application/json]";
            return Err(told(StatusCode::UNSUPPORTED_MEDIA_TYPE, detail));
        }
        let body = read(request.into_body()).await?;
        parse(&body).map(Self).map_err(Told)
    }
}

/// Tells whether the media type is JSON, whatever its parameters (RFC 9110 section 8.3.1).
fn is_json(headers: &HeaderMap) -> bool {
    let kind = headers
        .get(CONTENT_TYPE)
        .and_then(|kind| kind.to_str().ok());
    kind.and_then(|kind| kind.split(';').next())
        .is_some_and(|kind| kind.trim().eq_ignore_ascii_case("application/json"))
}

async fn read(body: Body) -> Result<bytes::Bytes, Told> {
    let whole = Limited::new(body, MAX_BODY_BYTES).collect();
    match tokio::time::timeout(READ_TIMEOUT, whole).await {
        Ok(Ok(body)) => Ok(body.to_bytes()),
        Ok(Err(error)) if error.is::<LengthLimitError>() => {
            let detail = format!("the body has more than {MAX_BODY_BYTES} bytes");
            Err(told(StatusCode::PAYLOAD_TOO_LARGE, detail))
        }
        Ok(Err(_cut)) => Err(told(StatusCode::BAD_REQUEST, "the body is incomplete")),
        Err(_elapsed) => Err(told(
            StatusCode::REQUEST_TIMEOUT,
            "the body did not come in",
        )),
    }
}

/// Reads JSON: 400 for what is none, 422 for what says something else than is asked for.
fn parse<T: DeserializeOwned>(body: &[u8]) -> Result<T, Problem> {
    let mut json = serde_json::Deserializer::from_slice(body);
    let value = serde_path_to_error::deserialize(&mut json).map_err(|error| {
        let place = error.path().to_string();
        let problem = match error.inner().classify() {
            Category::Data => {
                let told = without_place(error.inner());
                Problem::new(StatusCode::UNPROCESSABLE_ENTITY, told)
            }
            _ => Problem::new(
                StatusCode::BAD_REQUEST,
                format!("no JSON: {}", error.inner()),
            ),
        };
        match place.as_str() {
            "." | "?" => problem,
            place => problem.at(format!("/{}", place.replace('.', "/"))),
        }
    })?;
    json.end()
        .map_err(|error| Problem::new(StatusCode::BAD_REQUEST, format!("no JSON: {error}")))?;
    Ok(value)
}

/// Gives an error's sentence in the words of the files, without line and column, which say little of
/// a body of one line.
fn without_place(error: &serde_json::Error) -> String {
    let told = error.to_string();
    let end = format!(" at line {} column {}", error.line(), error.column());
    let told = told.strip_suffix(&end).unwrap_or(&told);
    unknown_word(told).unwrap_or_else(|| told.to_owned())
}

/// Gives the number that a parameter of the query has, or another if it is not there.
pub(super) fn number(uri: &Uri, name: &str, otherwise: u64) -> Result<u64, Told> {
    let query = uri.query().unwrap_or_default();
    let given = form_urlencoded::parse(query.as_bytes()).find(|(known, _)| known == name);
    let Some((_, value)) = given else {
        return Ok(otherwise);
    };
    value.parse().map_err(|_| {
        let detail = format!("`{name}` is `{value}` and should be a number of 0 or more");
        told(StatusCode::BAD_REQUEST, detail)
    })
}

/// Gives the number that a path ends in; none that can be raised if it is no number.
pub(super) fn id(text: &str) -> u64 {
    text.parse().unwrap_or(0)
}

pub(super) fn told(status: StatusCode, detail: impl Into<String>) -> Told {
    Told(Problem::new(status, detail))
}
