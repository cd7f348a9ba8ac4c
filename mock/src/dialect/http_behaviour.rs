//! How a host speaks HTTP, whatever it says.

use std::borrow::Cow;
use std::time::{Duration, SystemTime};

use http::{HeaderValue, Version};

use super::cors::Cors;
use crate::drift::FormChange;

/// Is how a host speaks HTTP: `[http]` of a dialect file. The default is a well-behaved HTTP/1.1
/// host without CORS.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HttpBehaviour {
    pub(super) version: Version,
    pub(super) keep_alive: bool,
    pub(super) keep_alive_requests: Option<u64>,
    pub(super) keep_alive_idle: Option<Duration>,
    pub(super) length: LengthForm,
    pub(super) gzip: GzipUse,
    pub(super) header_case: HeaderCase,
    pub(super) date: bool,
    pub(super) date_skew_s: i64,
    pub(super) host_field: bool,
    pub(super) cors: Option<Cors>,
}

/// Says how the end of a body is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LengthForm {
    /// By `Content-Length` (RFC 9112 section 6.2).
    ContentLength,
    /// By the last chunk (RFC 9112 section 7.1); a client of HTTP/1.0 is told the length (section
    /// 6.1).
    Chunked,
}

/// Says when a body is compressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GzipUse {
    /// Never.
    Never,
    /// When the client prefers it (RFC 9110 section 12.5.3).
    WhenAsked,
    /// Whether the client can read it or not: a host that does not look.
    Always,
}

/// Says how field names are written; to a client they are the same (RFC 9110 section 5.1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeaderCase {
    /// `content-type`.
    Lower,
    /// `Content-Type`.
    Title,
}

impl Default for HttpBehaviour {
    fn default() -> Self {
        Self {
            version: Version::HTTP_11,
            keep_alive: true,
            keep_alive_requests: None,
            keep_alive_idle: None,
            length: LengthForm::ContentLength,
            gzip: GzipUse::Never,
            header_case: HeaderCase::Lower,
            date: true,
            date_skew_s: 0,
            host_field: true,
            cors: None,
        }
    }
}

impl HttpBehaviour {
    /// Gives how the host speaks while a drift changes it. Where the dialect compresses for everybody,
    /// it still does. The letter case of field names is not looked at here.
    #[must_use]
    pub fn drifted(&self, form: FormChange) -> Cow<'_, Self> {
        if !form.gzip && !form.chunked {
            return Cow::Borrowed(self);
        }
        let mut http = self.clone();
        if form.gzip && http.gzip == GzipUse::Never {
            http.gzip = GzipUse::WhenAsked;
        }
        if form.chunked {
            http.length = LengthForm::Chunked;
        }
        Cow::Owned(http)
    }

    /// Gives the version that answers name: HTTP/1.0 or HTTP/1.1.
    pub fn version(&self) -> Version {
        self.version
    }

    /// Tells whether the connection ends after its `nth` answer, counted from 1.
    ///
    /// # Source
    /// RFC 9112 section 9.3: after HTTP/1.0 without `keep-alive`, and after `close`.
    pub fn closes_after(&self, nth: u64) -> bool {
        !self.keep_alive
            || self.version == Version::HTTP_10
            || self.keep_alive_requests.is_some_and(|limit| nth >= limit)
    }

    /// Gives the real time after which a connection without an exchange under way is closed; `None`
    /// keeps it for ever.
    pub fn keep_alive_idle(&self) -> Option<Duration> {
        self.keep_alive_idle
    }

    /// Tells how a client of a version is told where a body ends.
    pub fn length_for(&self, client: Version) -> LengthForm {
        if client < Version::HTTP_11 {
            return LengthForm::ContentLength;
        }
        self.length
    }

    /// Tells when bodies are compressed.
    pub fn gzip(&self) -> GzipUse {
        self.gzip
    }

    /// Tells how field names are written.
    pub fn header_case(&self) -> HeaderCase {
        self.header_case
    }

    /// Tells whether answers have the right `Date`; else see [`HttpBehaviour::wrong_date`].
    pub fn right_date(&self) -> bool {
        self.date && self.date_skew_s == 0
    }

    /// Gives the `Date` of a host whose clock is wrong; `None` if it is right or there is no field.
    ///
    /// # Source
    /// RFC 9110 section 6.6.1 (`Date`), section 5.6.7 (its form). A host without a clock must not
    /// send the field (section 6.6.1).
    pub fn wrong_date(&self, now: SystemTime) -> Option<HeaderValue> {
        if !self.date || self.right_date() {
            return None;
        }
        // A machine without a clock of its own starts at the epoch, and a date before it has no form.
        let since_epoch = now
            .duration_since(SystemTime::UNIX_EPOCH)
            .unwrap_or_default();
        let skew = Duration::from_secs(self.date_skew_s.unsigned_abs());
        let shown = if self.date_skew_s < 0 {
            since_epoch.saturating_sub(skew)
        } else {
            since_epoch.saturating_add(skew)
        };
        let date = httpdate::fmt_http_date(SystemTime::UNIX_EPOCH + shown);
        HeaderValue::try_from(date).ok()
    }

    /// Tells whether a request of HTTP/1.1 needs its `Host` field (RFC 9112 section 3.2).
    pub fn host_field(&self) -> bool {
        self.host_field
    }

    /// Gives what scripts of other origins may do; `None` if the host knows nothing of that.
    pub fn cors(&self) -> Option<&Cors> {
        self.cors.as_ref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 9110 section 5.6.7: `Sun, 06 Nov 1994 08:49:37 GMT`.
    const EXAMPLE: Duration = Duration::from_secs(784_111_777);

    fn date(skew_s: i64, since_epoch: Duration) -> Option<String> {
        let http = HttpBehaviour {
            date_skew_s: skew_s,
            ..HttpBehaviour::default()
        };
        let date = http.wrong_date(SystemTime::UNIX_EPOCH + since_epoch)?;
        Some(date.to_str().unwrap().to_owned())
    }

    #[test]
    fn the_date_runs_ahead_or_behind_and_never_before_the_epoch() {
        assert_eq!(date(0, EXAMPLE), None);
        let shown = |skew_s| date(skew_s, EXAMPLE).unwrap();
        assert_eq!(shown(-1), "Sun, 06 Nov 1994 08:49:36 GMT");
        assert_eq!(shown(86_400), "Mon, 07 Nov 1994 08:49:37 GMT");
        let early = date(-60, Duration::from_secs(5)).unwrap();
        assert_eq!(early, "Thu, 01 Jan 1970 00:00:00 GMT");
    }

    #[test]
    fn the_last_answer_is_the_one_that_the_limit_names() {
        let http = HttpBehaviour {
            keep_alive_requests: Some(3),
            ..HttpBehaviour::default()
        };
        assert_eq!(
            [1, 2, 3, 4].map(|nth| http.closes_after(nth)),
            [false, false, true, true]
        );
        assert!(!HttpBehaviour::default().closes_after(1_000_000));
        let old = HttpBehaviour {
            version: Version::HTTP_10,
            ..HttpBehaviour::default()
        };
        assert!(old.closes_after(1));
    }

    #[test]
    fn a_drift_adds_to_what_the_dialect_asks_for_and_takes_nothing_from_it() {
        let form = |gzip, chunked| FormChange {
            gzip,
            chunked,
            field_case: None,
        };
        let plain = HttpBehaviour::default();
        for (gzip, chunked) in [(false, false), (true, false), (false, true), (true, true)] {
            let http = plain.drifted(form(gzip, chunked));
            assert_eq!(http.gzip() == GzipUse::WhenAsked, gzip);
            assert_eq!(http.length == LengthForm::Chunked, chunked);
        }
        let always = HttpBehaviour {
            gzip: GzipUse::Always,
            length: LengthForm::Chunked,
            ..plain
        };
        assert_eq!(*always.drifted(form(true, false)), always);
    }

    #[test]
    fn a_client_of_http_1_0_is_never_sent_chunks_rfc_9112_s6_1() {
        let http = HttpBehaviour {
            length: LengthForm::Chunked,
            ..HttpBehaviour::default()
        };
        assert_eq!(http.length_for(Version::HTTP_10), LengthForm::ContentLength);
        assert_eq!(http.length_for(Version::HTTP_11), LengthForm::Chunked);
    }
}
