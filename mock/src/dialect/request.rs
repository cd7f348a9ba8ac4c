//! What a dialect looks at in a request.

use http::{HeaderMap, Method};

/// Is a request as it came.
#[derive(Debug, Clone, Copy)]
pub struct Request<'a> {
    /// The method, case-sensitive (RFC 9110 section 9.1).
    pub method: &'a Method,
    /// The path as it came, percent-encoded; `*` for a request about the server as a whole.
    pub path: &'a str,
    /// What followed the `?`, percent-encoded.
    pub query: Option<&'a str>,
    /// The header fields.
    pub headers: &'a HeaderMap,
    /// The body.
    pub body: &'a [u8],
}

impl<'a> Request<'a> {
    /// Gives a parameter of the query, the first of its name.
    ///
    /// # Source
    /// WHATWG URL, "application/x-www-form-urlencoded parsing": percent-decoded, `+` is a space.
    pub fn query_parameter(&self, name: &str) -> Option<String> {
        first(self.query.unwrap_or_default().as_bytes(), name)
    }

    /// Gives a field of a form in the body, the first of its name.
    ///
    /// # Source
    /// As [`Request::query_parameter`].
    pub fn form_field(&self, name: &str) -> Option<String> {
        first(self.body, name)
    }

    /// Gives a cookie's value, the first of its name.
    ///
    /// # Source
    /// RFC 6265 section 4.2.1 and 5.4: pairs separated by `; `.
    pub fn cookie(&self, name: &str) -> Option<&'a str> {
        let headers: &'a HeaderMap = self.headers;
        let fields = headers.get_all(http::header::COOKIE);
        fields
            .iter()
            .filter_map(|field| field.to_str().ok())
            .flat_map(|field| field.split(';'))
            .filter_map(|pair| pair.trim().split_once('='))
            .find(|(known, _)| *known == name)
            .map(|(_, value)| value.trim_matches('"'))
    }
}

fn first(encoded: &[u8], name: &str) -> Option<String> {
    form_urlencoded::parse(encoded)
        .find(|(known, _)| known == name)
        .map(|(_, value)| value.into_owned())
}
