//! What is sent back.

use std::time::Duration;

use bytes::Bytes;
use http::header::{CACHE_CONTROL, CONTENT_LENGTH, CONTENT_TYPE, ETAG};
use http::{HeaderMap, HeaderValue, StatusCode};
use minijinja::Value as Term;
use serde_json::Value;
use xxhash_rust::xxh3::xxh3_64;

use super::push_plan::PushPlan;
use super::render::{self, RenderError, Rendered};
use super::route::{ContentTemplate, Matched, Params, Route, RouteId, RouteKind};
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
    /// Renders what a route says about a truth; what is JSON is a value that drifts can be applied
    /// to.
    ///
    /// # Errors
    /// The dialect has a fault that its check could not find.
    pub fn render(&self, matched: &Matched, truth: &Truth) -> Result<Rendered, RenderError> {
        self.render_in(matched, &self.scope(truth, matched))
    }

    /// As [`Dialect::render`], after a log-in that gave this token.
    ///
    /// # Errors
    /// As [`Dialect::render`].
    pub fn render_log_in(
        &self,
        matched: &Matched,
        truth: &Truth,
        token: &str,
    ) -> Result<Rendered, RenderError> {
        self.render_in(matched, &self.log_in_scope(truth, matched, token))
    }

    fn render_in(&self, matched: &Matched, scope: &Scope) -> Result<Rendered, RenderError> {
        let route = self.of(matched.route);
        if let Some(problem) = missing(route, scope)? {
            return Ok(Rendered::Missing(problem));
        }
        match &route.content {
            Some(ContentTemplate::Json(body)) => render::body(body, scope).map(Rendered::Body),
            Some(ContentTemplate::Text(text)) => text.render(scope).map(Rendered::Text),
            Some(ContentTemplate::Bytes(bytes)) => Ok(Rendered::Bytes(bytes.clone())),
            None => Ok(Rendered::Nothing),
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
        missing(self.of(matched.route), &self.scope(truth, matched))
    }

    /// Makes the answer of a route from what was rendered, drifts applied or not.
    ///
    /// # Errors
    /// A header field cannot be rendered.
    pub fn finish(
        &self,
        matched: &Matched,
        truth: &Truth,
        rendered: Rendered,
    ) -> Result<Answer, RenderError> {
        let mut answer = match rendered {
            Rendered::Missing(problem) => return Ok(self.problem(&problem)),
            Rendered::Body(body) => self.answer(matched.route, &body),
            Rendered::Text(text) => self.answer_bytes(matched.route, Bytes::from(text)),
            Rendered::Bytes(bytes) => self.answer_bytes(matched.route, bytes),
            Rendered::Nothing => Answer {
                status: self.of(matched.route).status,
                headers: self.fixed_headers(matched.route),
                body: Bytes::new(),
            },
        };
        let live = &self.of(matched.route).live_headers;
        if !live.is_empty() {
            let scope = self.scope(truth, matched);
            for (name, value) in live {
                let value = render::phrase(value, &scope)?;
                let value = HeaderValue::try_from(value).map_err(|_| {
                    let message = format!("header field `{name}` cannot have that value");
                    RenderError::of_the_whole(message)
                })?;
                answer.headers.insert(name, value);
            }
        }
        Ok(answer)
    }

    /// Makes the answer of a route from its JSON body, with an `ETag` if it is a 200 to GET.
    ///
    /// # Source
    /// RFC 9110 section 8.8.3: a strong tag, since equal bytes have equal tags and unequal ones
    /// differ except with a chance of 2^-64.
    pub fn answer(&self, route: RouteId, body: &Value) -> Answer {
        self.answer_bytes(route, Bytes::from(body.to_string()))
    }

    fn answer_bytes(&self, route: RouteId, bytes: Bytes) -> Answer {
        let mut headers = self.fixed_headers(route);
        let route = self.of(route);
        headers.insert(CONTENT_TYPE, route.content_type.clone());
        if route.status == StatusCode::OK
            && route.method == http::Method::GET
            && route.kind.is_tagged()
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

    fn fixed_headers(&self, route: RouteId) -> HeaderMap {
        let mut headers = self.headers.clone();
        extend(&mut headers, &self.of(route).headers);
        headers
    }

    /// Renders a route's whole answer, no drift applied: [`Dialect::render`], then
    /// [`Dialect::finish`]. A dialect's fault becomes a 500.
    pub fn render_answer(&self, matched: &Matched, truth: &Truth) -> Answer {
        self.render(matched, truth)
            .and_then(|rendered| self.finish(matched, truth, rendered))
            .unwrap_or_else(|error| self.problem(&Problem::fault_of_dialect(&error)))
    }

    /// Gives how long a route lets its client wait for the answer, in real time.
    pub fn answer_after(&self, route: RouteId) -> Duration {
        self.of(route).answer_after
    }

    /// Gives the plan of a push route.
    pub fn push_plan(&self, route: RouteId) -> Option<&PushPlan> {
        match &self.of(route).kind {
            RouteKind::Push(plan) => Some(plan),
            _ => None,
        }
    }

    /// Gives the head of a push route's answer; its body is the stream.
    ///
    /// A stream must not be stored, so `Cache-Control: no-cache` stands in if the file says nothing.
    pub fn push_answer(&self, route: RouteId) -> Answer {
        let mut headers = self.fixed_headers(route);
        let route = self.of(route);
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

    /// Gives what the file says a route is for, for people.
    pub fn summary(&self, route: RouteId) -> Option<&str> {
        self.of(route).summary.as_deref()
    }

    pub(super) fn of(&self, route: RouteId) -> &Route {
        // Only `Router` makes ids, and it is filled from these routes.
        &self.routes[route.0]
    }

    /// Gives what expressions see: the truth, and what the request brought.
    pub(super) fn scope(&self, truth: &Truth, matched: &Matched) -> Scope {
        let params = |params: &Params| -> Term {
            let pairs = params.0.iter();
            pairs
                .map(|(name, value)| (name.clone(), Term::from(value.clone())))
                .collect()
        };
        // A body that is not there is seen as an empty one, so that `body.x | default(…)` works.
        let body = match &matched.body {
            Some(body) => Term::from_serialize(&**body),
            None => Term::from_iter(std::iter::empty::<(String, Term)>()),
        };
        Scope::new(Term::from_serialize(truth))
            .bind("words", self.words.clone())
            .bind("body", body)
            .bind("query", params(&matched.query))
            .bind("path", params(&matched.path))
    }

    fn log_in_scope(&self, truth: &Truth, matched: &Matched, token: &str) -> Scope {
        let log_in = minijinja::context! { token => token };
        self.scope(truth, matched).bind("log_in", log_in)
    }
}

fn missing(route: &Route, scope: &Scope) -> Result<Option<Problem>, RenderError> {
    match &route.exists {
        Some(exists) if !render::holds(exists, scope)? => {
            let detail = render::phrase(&route.missing, scope)?;
            Ok(Some(Problem::new(route.missing_status, detail)))
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
