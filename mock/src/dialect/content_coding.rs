//! Compressed answers.

use std::io::Write as _;

use bytes::Bytes;
use flate2::Compression;
use flate2::write::GzEncoder;
use http::header::{ACCEPT_ENCODING, CONTENT_ENCODING, CONTENT_RANGE, ETAG};
use http::{HeaderMap, HeaderValue};

use super::accept_encoding::asks_for_gzip;
use super::http_behaviour::GzipUse;
use super::{Answer, vary};

impl Answer {
    /// Gives the answer the tag of the representation that a client with these fields gets, and
    /// tells caches what it depends on. The bytes stay as they are until [`Answer::coded`].
    ///
    /// # Source
    /// RFC 9110 section 8.8.3.3: a strong tag differs between codings. Section 12.5.5: `Vary`.
    #[must_use]
    pub(super) fn for_coding(mut self, gzip: GzipUse, request: &HeaderMap) -> Self {
        if gzip == GzipUse::Never || !self.can_be_coded() {
            return self;
        }
        if gzip == GzipUse::WhenAsked {
            vary::add(&mut self.headers, &ACCEPT_ENCODING);
        }
        if compresses(gzip, request)
            && let Some(tag) = self.headers.get(ETAG).and_then(tag_of_gzip)
        {
            self.headers.insert(ETAG, tag);
        }
        self
    }

    /// Compresses the body if a client with these fields gets it so.
    ///
    /// Equal bodies have equal bytes: no time is written into them.
    ///
    /// # Source
    /// RFC 1952 (the format), RFC 9110 section 8.4.1.3 (the coding).
    #[must_use]
    pub(super) fn coded(mut self, gzip: GzipUse, request: &HeaderMap) -> Self {
        if !compresses(gzip, request) || !self.can_be_coded() {
            return self;
        }
        self.body = compressed(&self.body);
        self.headers
            .insert(CONTENT_ENCODING, HeaderValue::from_static("gzip"));
        self
    }

    fn can_be_coded(&self) -> bool {
        !self.body.is_empty()
            && !self.headers.contains_key(CONTENT_ENCODING)
            // Its numbers count the bytes of the whole (RFC 9110 section 14.4).
            && !self.headers.contains_key(CONTENT_RANGE)
    }
}

fn compresses(gzip: GzipUse, request: &HeaderMap) -> bool {
    match gzip {
        GzipUse::Never => false,
        GzipUse::WhenAsked => asks_for_gzip(request),
        GzipUse::Always => true,
    }
}

/// Writes `"abc"` as `"abc-gzip"`.
fn tag_of_gzip(tag: &HeaderValue) -> Option<HeaderValue> {
    let inner = tag.as_bytes().strip_suffix(b"\"")?;
    HeaderValue::from_bytes(&[inner, b"-gzip\""].concat()).ok()
}

fn compressed(body: &[u8]) -> Bytes {
    let mut writer = GzEncoder::new(Vec::new(), Compression::default());
    // Writing to memory cannot fail.
    let _ = writer.write_all(body);
    Bytes::from(writer.finish().unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use std::io::Read as _;

    use flate2::read::GzDecoder;
    use http::StatusCode;
    use http::header::VARY;

    use super::*;

    fn answer() -> Answer {
        let mut headers = HeaderMap::new();
        headers.insert(ETAG, HeaderValue::from_static("\"abc\""));
        Answer {
            status: StatusCode::OK,
            headers,
            body: Bytes::from("0123456789".repeat(100)),
        }
    }

    fn asking(value: &'static str) -> HeaderMap {
        HeaderMap::from_iter([(ACCEPT_ENCODING, HeaderValue::from_static(value))])
    }

    fn sent(gzip: GzipUse, request: &HeaderMap) -> Answer {
        answer().for_coding(gzip, request).coded(gzip, request)
    }

    #[test]
    fn what_is_compressed_can_be_read_again_and_has_a_tag_of_its_own() {
        let sent = sent(GzipUse::WhenAsked, &asking("gzip"));
        assert_eq!(sent.headers[CONTENT_ENCODING], "gzip");
        assert_eq!(sent.headers[ETAG], "\"abc-gzip\"");
        assert_eq!(sent.headers[VARY], "accept-encoding");
        assert!(sent.body.len() < 100, "{} bytes", sent.body.len());
        let mut body = String::new();
        GzDecoder::new(&sent.body[..])
            .read_to_string(&mut body)
            .unwrap();
        assert_eq!(body, answer().body);
    }

    #[test]
    fn an_answer_that_was_not_compressed_varies_all_the_same_rfc_9110_s12_5_5() {
        let sent = sent(GzipUse::WhenAsked, &asking("br"));
        assert_eq!(sent.body, answer().body);
        assert_eq!(sent.headers[ETAG], "\"abc\"");
        assert_eq!(sent.headers[VARY], "accept-encoding");
    }

    #[test]
    fn always_compresses_for_everybody_and_so_does_not_vary() {
        for request in [HeaderMap::new(), asking("gzip;q=0")] {
            let sent = sent(GzipUse::Always, &request);
            assert_eq!(sent.headers[CONTENT_ENCODING], "gzip");
            assert_eq!(sent.headers.get(VARY), None);
        }
        assert_eq!(sent(GzipUse::Never, &asking("gzip")), answer());
    }

    #[test]
    fn a_body_that_is_empty_coded_or_a_part_is_left_alone() {
        let mut empty = answer();
        empty.body = Bytes::new();
        let mut coded = answer();
        coded
            .headers
            .insert(CONTENT_ENCODING, HeaderValue::from_static("br"));
        let mut part = answer();
        let range = HeaderValue::from_static("bytes 0-999/2000");
        part.headers.insert(CONTENT_RANGE, range);
        for answer in [empty, coded, part] {
            let request = HeaderMap::new();
            let sent = answer.clone().for_coding(GzipUse::Always, &request);
            assert_eq!(sent.coded(GzipUse::Always, &request), answer);
        }
    }
}
