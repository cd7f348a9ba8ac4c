//! What is sent back.

use bytes::Bytes;
use http::header::{CACHE_CONTROL, CONTENT_LENGTH, CONTENT_TYPE, ETAG};
use http::{HeaderMap, HeaderValue, StatusCode};
use minijinja::Value as Term;
use serde_json::Value;
use xxhash_rust::xxh3::xxh3_64;

use super::render::{self, RenderError, Rendered};
use super::route::{Matched, PathParams, PushPlan, Route, RouteId, RouteKind};
use super::scope::Scope;
use super::{Dialect, Problem};
use crate::sim::Truth;

/// Is an answer, ready to be sent.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The status code.
    pub status: StatusCode,
    /// The header fields, without those the connection adds (`Date`, `Content-Length`, …).
    pub headers: HeaderMap,
    /// The body.
    pub body: Bytes,
}

impl Answer {
    /// Takes the body away, as for HEAD: the fields stay as they would be for GET.
    ///
    /// # Source
    /// RFC 9110 section 9.3.2; section 8.6 for `Content-Length`.
    #[must_use]
    pub fn without_body(mut self) -> Self {
        if !self.headers.contains_key(CONTENT_LENGTH) && self.status != StatusCode::NOT_MODIFIED {
            self.headers
                .insert(CONTENT_LENGTH, HeaderValue::from(self.body.len()));
        }
        self.body = Bytes::new();
        self
    }
}

impl Dialect {
    /// Renders what a route says about a truth, as a JSON value that drifts can be applied to.
    ///
    /// # Errors
    /// The dialect has a fault that its check could not find.
    pub fn render(&self, matched: &Matched, truth: &Truth) -> Result<Rendered, RenderError> {
        let route = self.of(matched.route);
        let scope = self.scope(truth, &matched.path);
        if let Some(problem) = missing(route, &scope)? {
            return Ok(Rendered::Missing(problem));
        }
        match &route.body {
            Some(body) => render::body(body, &scope).map(Rendered::Body),
            None => Ok(Rendered::Body(Value::Null)),
        }
    }

    /// Tells what a route says when what it is about does not exist.
    ///
    /// # Errors
    /// The dialect has a fault that its check could not find.
    pub fn missing(
        &self,
        matched: &Matched,
        truth: &Truth,
    ) -> Result<Option<Problem>, RenderError> {
        missing(self.of(matched.route), &self.scope(truth, &matched.path))
    }

    /// Makes the answer of a route from its body, with an `ETag` if it is a 200 to GET.
    ///
    /// # Source
    /// RFC 9110 section 8.8.3: a strong tag, since equal bytes have equal tags and unequal ones
    /// differ except with a chance of 2^-64.
    pub fn answer(&self, route: RouteId, body: &Value) -> Answer {
        let route = self.of(route);
        let mut headers = self.headers.clone();
        extend(&mut headers, &route.headers);
        if route.body.is_none() {
            return Answer {
                status: route.status,
                headers,
                body: Bytes::new(),
            };
        }
        let bytes = Bytes::from(body.to_string());
        headers.insert(CONTENT_TYPE, route.content_type.clone());
        if route.status == StatusCode::OK
            && route.method == http::Method::GET
            && matches!(route.kind, RouteKind::Body)
        {
            let tag = format!("\"{:016x}\"", xxh3_64(&bytes));
            headers.insert(
                ETAG,
                HeaderValue::try_from(tag).expect("hex is visible ASCII"),
            );
        }
        Answer {
            status: route.status,
            headers,
            body: bytes,
        }
    }

    /// Renders a route's whole answer, no drift applied: [`Dialect::render`], then
    /// [`Dialect::answer`]. A dialect's fault becomes a 500.
    pub fn render_answer(&self, matched: &Matched, truth: &Truth) -> Answer {
        match self.render(matched, truth) {
            Ok(Rendered::Body(body)) => self.answer(matched.route, &body),
            Ok(Rendered::Missing(problem)) => self.problem(&problem),
            Err(error) => self.problem(&Problem::fault_of_dialect(&error)),
        }
    }

    /// Gives the plan of a push route.
    pub fn push_plan(&self, route: RouteId) -> Option<PushPlan> {
        match self.of(route).kind {
            RouteKind::Push(plan) => Some(plan),
            RouteKind::Body | RouteKind::Command(_) => None,
        }
    }

    /// Gives the head of a push route's answer; its body is the stream.
    ///
    /// A stream must not be stored, so `Cache-Control: no-cache` stands in if the file says nothing.
    pub fn push_answer(&self, route: RouteId) -> Answer {
        let route = self.of(route);
        let mut headers = self.headers.clone();
        extend(&mut headers, &route.headers);
        headers.insert(CONTENT_TYPE, route.content_type.clone());
        headers
            .entry(CACHE_CONTROL)
            .or_insert(HeaderValue::from_static("no-cache"));
        Answer {
            status: route.status,
            headers,
            body: Bytes::new(),
        }
    }

    /// Gives a route's method and path as the file writes them: `GET /heaters/{name}`.
    pub fn describe(&self, route: RouteId) -> String {
        let route = self.of(route);
        format!("{} {}", route.method, route.path)
    }

    pub(super) fn of(&self, route: RouteId) -> &Route {
        // Only `Router` makes ids, and it is filled from these routes.
        &self.routes[route.0]
    }

    pub(super) fn scope(&self, truth: &Truth, path: &PathParams) -> Scope {
        let path: Term = path
            .0
            .iter()
            .map(|(name, value)| (name.clone(), Term::from(value.clone())))
            .collect();
        Scope::new(Term::from_serialize(truth))
            .bind("words", self.words.clone())
            .bind("path", path)
    }
}

fn missing(route: &Route, scope: &Scope) -> Result<Option<Problem>, RenderError> {
    match &route.exists {
        Some(exists) if !render::holds(exists, scope)? => {
            let detail = render::phrase(&route.missing, scope)?;
            Ok(Some(Problem::new(StatusCode::NOT_FOUND, detail)))
        }
        _ => Ok(None),
    }
}

/// Sets fields over equal ones; a field given twice stays there twice.
pub(super) fn extend(headers: &mut HeaderMap, more: &HeaderMap) {
    for name in more.keys() {
        headers.remove(name);
    }
    for (name, value) in more {
        headers.append(name, value.clone());
    }
}
