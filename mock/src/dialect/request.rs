//! What a dialect looks at in a request.

use http::{HeaderMap, Method};

/// Is a request without its body.
#[derive(Debug, Clone, Copy)]
pub struct RequestHead<'a> {
    /// The method, case-sensitive (RFC 9110 section 9.1).
    pub method: &'a Method,
    /// The path as it came, percent-encoded; `*` for a request about the server as a whole.
    pub path: &'a str,
    /// What followed the `?`, percent-encoded.
    pub query: Option<&'a str>,
    /// The header fields.
    pub headers: &'a HeaderMap,
}
