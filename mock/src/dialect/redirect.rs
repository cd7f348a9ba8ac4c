//! Paths that only lead elsewhere.

use bytes::Bytes;
use http::header::{ALLOW, LOCATION};
use http::{HeaderValue, Method, StatusCode};

use super::{Answer, Dialect, Problem, Request};

/// Is a path that only leads elsewhere: one of `[[redirects]]` of a dialect file.
///
/// # Source
/// RFC 9110 section 15.4.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Redirect {
    pub(super) path: String,
    /// `None` for every method.
    pub(super) method: Option<Method>,
    pub(super) status: StatusCode,
    pub(super) location: HeaderValue,
}

impl Redirect {
    fn leads(&self, method: &Method) -> bool {
        match &self.method {
            None => true,
            Some(known) => known == method || (*known == Method::GET && *method == Method::HEAD),
        }
    }
}

impl Dialect {
    /// Leads a request elsewhere, if its path and method are those of a redirect.
    ///
    /// The path is compared as it came, percent-encoded.
    pub(super) fn redirected(&self, head: &Request<'_>) -> Option<Answer> {
        let redirect = self
            .redirects
            .iter()
            .find(|redirect| redirect.path == head.path && redirect.leads(head.method))?;
        let mut headers = self.headers.clone();
        headers.insert(LOCATION, redirect.location.clone());
        Some(Answer {
            status: redirect.status,
            headers,
            body: Bytes::new(),
        })
    }

    /// Says what a method is told at a path that only other methods are led away from.
    ///
    /// # Source
    /// RFC 9110 section 15.5.6 (405 lists `Allow`).
    pub(super) fn not_redirected(&self, head: &Request<'_>) -> Option<Problem> {
        let mut methods: Vec<&str> = self
            .redirects
            .iter()
            .filter(|redirect| redirect.path == head.path)
            .filter_map(|redirect| redirect.method.as_ref())
            .flat_map(|method| {
                let head = (*method == Method::GET).then_some("HEAD");
                std::iter::once(method.as_str()).chain(head)
            })
            .collect();
        if methods.is_empty() {
            return None;
        }
        methods.sort_unstable();
        let allow = HeaderValue::try_from(methods.join(", ")).ok()?;
        let detail = format!("{} is not a method of {}", head.method, head.path);
        Some(Problem::new(StatusCode::METHOD_NOT_ALLOWED, detail).with_header(ALLOW, allow))
    }
}
