//! `/`: a page for people, beside the watcher they write.
//!
//! Owns: the page's parts and the fields it is sent with.
//! Does not own: anything the page shows; it asks the other resources for that.

use std::sync::LazyLock;

use axum::response::Response;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use http::header::{
    CONTENT_SECURITY_POLICY, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use http::{HeaderValue, StatusCode};
use rustls::SupportedCipherSuite;
use rustls::crypto::ring::cipher_suite::TLS13_AES_128_GCM_SHA256;

use super::answer::answer;

/// Is the path of the page.
pub(super) const PATH: &str = "/";

/// One script and one sheet in one document: nothing else is ever fetched but data.
macro_rules! script {
    () => {
        concat!(
            include_str!("bench/page.js"),
            include_str!("bench/ask.js"),
            include_str!("bench/truth.js"),
            include_str!("bench/clock.js"),
            include_str!("bench/fields.js"),
            include_str!("bench/raise.js"),
            include_str!("bench/events.js"),
            include_str!("bench/requests.js"),
            include_str!("bench/start.js"),
        )
    };
}
macro_rules! style {
    () => {
        include_str!("bench/style.css")
    };
}

const PAGE: &str = concat!(
    "<!doctype html>\n<html lang=\"en\">\n<head>\n",
    include_str!("bench/head.html"),
    "<style>",
    style!(),
    "</style>\n</head>\n<body>\n",
    include_str!("bench/body.html"),
    "<script>",
    script!(),
    "</script>\n</body>\n</html>\n",
);

/// Lets the page run its own script and sheet, by their hashes, and talk to its own origin. A script
/// that found a way into the page from a job's name, say, would not run.
///
/// # Source
/// W3C Content Security Policy Level 3, section 6.1 (fetch directives), section 6.4.2
/// (`frame-ancestors`), section 6.7.3.3 (hashes of inline script), from memory.
static POLICY: LazyLock<String> = LazyLock::new(|| {
    format!(
        "default-src 'none'; script-src '{}'; style-src '{}'; connect-src 'self'; img-src data:; \
         base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
        hash(script!()),
        hash(style!()),
    )
});

/// Gives a text's hash as a policy names it.
fn hash(text: &str) -> String {
    // The TLS library has the function already.
    let suite = match TLS13_AES_128_GCM_SHA256 {
        SupportedCipherSuite::Tls13(suite) => &suite.common,
        SupportedCipherSuite::Tls12(suite) => &suite.common,
    };
    let digest = suite.hash_provider.hash(text.as_bytes());
    format!("sha256-{}", STANDARD.encode(digest))
}

/// Gives the page. It holds no data, so it is shown without a key and asks for it.
pub(super) async fn show() -> Response {
    let kind = HeaderValue::from_static("text/html; charset=utf-8");
    let mut response = answer(StatusCode::OK, kind, PAGE.to_owned());
    let headers = response.headers_mut();
    // Made of fixed words and base64.
    if let Ok(policy) = HeaderValue::try_from(POLICY.as_str()) {
        headers.insert(CONTENT_SECURITY_POLICY, policy);
    }
    // For browsers older than `frame-ancestors` (RFC 7034).
    headers.insert(X_FRAME_OPTIONS, HeaderValue::from_static("DENY"));
    headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    response
}

#[cfg(test)]
mod tests {
    /// # Source
    /// FIPS 180-4, the example "abc" of SHA-256 (from memory); W3C CSP Level 3 section 2.3.1 for the form.
    #[test]
    fn a_hash_is_sha_256_in_base64() {
        assert_eq!(
            super::hash("abc"),
            "sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0="
        );
    }
}
