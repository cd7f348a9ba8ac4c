//! Error bodies.

use bytes::Bytes;
use http::header::{CONTENT_TYPE, HeaderName};
use http::{HeaderMap, HeaderValue, StatusCode};

use super::body::Node;
use super::render::{self, RenderError};
use super::scope::Scope;
use super::{Answer, Dialect};
use crate::sim::Refused;

/// Is an error to be told to the client in the dialect's own form.
///
/// # Source
/// RFC 9457 section 3.1 for what the members mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// The status code.
    pub status: StatusCode,
    /// What happened this time, for people.
    pub detail: String,
    /// The place in the request's body, as a JSON Pointer (RFC 6901), where there is one.
    pub pointer: Option<String>,
    /// Fields the answer must have.
    pub headers: Vec<(HeaderName, HeaderValue)>,
}

impl Problem {
    /// Describes a problem.
    pub fn new(status: StatusCode, detail: impl Into<String>) -> Self {
        Self {
            status,
            detail: detail.into(),
            pointer: None,
            headers: Vec::new(),
        }
    }

    /// Adds a place in the request's body.
    #[must_use]
    pub fn at(mut self, pointer: impl Into<String>) -> Self {
        self.pointer = Some(pointer.into());
        self
    }

    /// Adds a field to the answer.
    #[must_use]
    pub fn with_header(mut self, name: HeaderName, value: HeaderValue) -> Self {
        self.headers.push((name, value));
        self
    }

    /// Describes a body that could not be rendered.
    pub fn fault_of_dialect(error: &RenderError) -> Self {
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, error.to_string())
    }
}

impl From<&Refused> for Problem {
    /// Says why the printer refused: 409 when it could at another time, 404 when the thing does not
    /// exist, 422 when the value was understood and cannot be followed.
    ///
    /// # Source
    /// RFC 9110 section 15.5.10 (409), section 15.5.5 (404), section 15.5.21 (422).
    fn from(refused: &Refused) -> Self {
        let status = match refused {
            Refused::WrongPhase { .. } => StatusCode::CONFLICT,
            Refused::UnknownHeater { .. } | Refused::UnknownJob { .. } | Refused::NoJob => {
                StatusCode::NOT_FOUND
            }
            Refused::TargetOutOfRange { .. } => StatusCode::UNPROCESSABLE_ENTITY,
        };
        Self::new(status, refused.to_string())
    }
}

/// Is how a dialect writes problems.
#[derive(Debug)]
pub(super) struct ProblemTemplate {
    pub(super) content_type: HeaderValue,
    pub(super) headers: HeaderMap,
    pub(super) body: Node,
}

impl ProblemTemplate {
    pub(super) fn render(&self, problem: &Problem) -> Result<Bytes, RenderError> {
        let scope = Scope::new(minijinja::context! {
            status => problem.status.as_u16(),
            title => problem.status.canonical_reason().unwrap_or("Error"),
            detail => problem.detail,
            pointer => problem.pointer,
        });
        render::body(&self.body, &scope).map(|body| Bytes::from(body.to_string()))
    }
}

impl Dialect {
    /// Writes a problem as the dialect writes them.
    pub fn problem(&self, problem: &Problem) -> Answer {
        let mut headers = self.headers.clone();
        super::answer::extend(&mut headers, &self.problem.headers);
        headers.extend(problem.headers.iter().cloned());
        // The check rendered the template with and without every optional value.
        let body = self.problem.render(problem).unwrap_or_default();
        let mut answer = Answer {
            status: problem.status,
            headers,
            body,
        };
        // These have no content, whatever there is to say (RFC 9110 sections 15.3.5, 15.3.6, 15.4.5).
        if matches!(problem.status.as_u16(), 204 | 205 | 304) {
            answer.body = Bytes::new();
        } else {
            let content_type = self.problem.content_type.clone();
            answer.headers.insert(CONTENT_TYPE, content_type);
        }
        answer
    }
}
