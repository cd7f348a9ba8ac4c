//! Conditional requests: 304 when the client has the body already.

use bytes::Bytes;
use http::header::{
    CACHE_CONTROL, CONTENT_LOCATION, DATE, ETAG, EXPIRES, HeaderMap, HeaderName, IF_NONE_MATCH,
    VARY,
};
use http::{HeaderValue, StatusCode};

use super::Answer;

/// The fields that a 304 keeps of the 200 it stands for.
const KEPT: [HeaderName; 6] = [CACHE_CONTROL, CONTENT_LOCATION, DATE, ETAG, EXPIRES, VARY];

impl Answer {
    /// Gives 304 in the place of a 200 whose tag the request names in `If-None-Match`.
    ///
    /// # Source
    /// RFC 9110 section 13.1.2 (weak comparison, `*` for any), section 15.4.5 (no body; the fields
    /// that stay).
    #[must_use]
    pub fn conditional(self, request: &HeaderMap) -> Self {
        let matches = self.status == StatusCode::OK
            && self.headers.get(ETAG).is_some_and(|tag| {
                request
                    .get_all(IF_NONE_MATCH)
                    .iter()
                    .any(|list| names(list, tag))
            });
        if !matches {
            return self;
        }
        let mut headers = HeaderMap::new();
        for (name, value) in &self.headers {
            if KEPT.contains(name) {
                headers.append(name, value.clone());
            }
        }
        Self {
            status: StatusCode::NOT_MODIFIED,
            headers,
            body: Bytes::new(),
        }
    }
}

/// Tells whether a field value names a tag.
fn names(list: &HeaderValue, tag: &HeaderValue) -> bool {
    let list = list.as_bytes().trim_ascii();
    list == b"*" || tags(list).any(|named| named == tag.as_bytes())
}

/// Gives the tags of a list without their `W/`, which weak comparison ignores
/// (RFC 9110 section 8.8.3.2). A malformed rest of the list names nothing.
fn tags(mut list: &[u8]) -> impl Iterator<Item = &[u8]> {
    std::iter::from_fn(move || {
        // Empty list elements are allowed (RFC 9110 section 5.6.1.2). A comma may be inside a tag,
        // so the list cannot just be split at commas.
        let begin = list
            .iter()
            .position(|byte| !matches!(byte, b',' | b' ' | b'\t'))?;
        let element = &list[begin..];
        let element = element.strip_prefix(b"W/").unwrap_or(element);
        let inner = element.strip_prefix(b"\"")?;
        let length = inner.iter().position(|byte| *byte == b'"')?;
        list = &inner[length + 1..];
        Some(&element[..length + 2])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn matches(list: &'static str) -> bool {
        names(
            &HeaderValue::from_static(list),
            &HeaderValue::from_static("\"abc\""),
        )
    }

    #[test]
    fn compares_weakly_and_reads_lists_rfc_9110_s13_1_2() {
        for list in [
            "\"abc\"",
            "W/\"abc\"",
            "*",
            " * ",
            "\"x\", \"abc\"",
            "\"x,y\" ,, W/\"abc\"",
        ] {
            assert!(matches(list), "{list} does not match");
        }
        for list in [
            "",
            "abc",
            "\"ABC\"",
            "\"abcd\"",
            "\"x\"",
            "\"x,\"abc",
            "w/\"abc\"",
            ",",
        ] {
            assert!(!matches(list), "{list} matches");
        }
    }
}
