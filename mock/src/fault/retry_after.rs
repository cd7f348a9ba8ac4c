//! How long a client is asked to wait.

use std::time::SystemTime;

use http::HeaderValue;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Span;

/// Says how long a client is asked to wait.
///
/// # Source
/// RFC 9110 section 10.2.3.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RetryAfter {
    /// As a number of seconds.
    Seconds(u64),
    /// As a date, so long after the answer, in the form of today.
    Date(Span),
    /// As a date in the form of RFC 850, which is obsolete and has to be understood.
    Rfc850Date(Span),
    /// As a date in the form of ANSI C's asctime, which is obsolete and has to be understood.
    AsctimeDate(Span),
}

impl RetryAfter {
    /// Writes the field's value for an answer of a moment.
    ///
    /// # Source
    /// RFC 9110 section 5.6.7: the three forms, all of them in UTC.
    pub fn value(&self, now: SystemTime) -> HeaderValue {
        let text = match *self {
            Self::Seconds(seconds) => return HeaderValue::from(seconds),
            Self::Date(span) => httpdate::fmt_http_date(now + span.0),
            Self::Rfc850Date(span) => formatted(now, span, "%A, %d-%b-%y %H:%M:%S GMT"),
            Self::AsctimeDate(span) => formatted(now, span, "%a %b %e %H:%M:%S %Y"),
        };
        HeaderValue::try_from(text).expect("a date is visible ASCII")
    }
}

fn formatted(now: SystemTime, span: Span, form: &str) -> String {
    let at = jiff::Timestamp::try_from(now + span.0).unwrap_or(jiff::Timestamp::MAX);
    at.strftime(form).to_string()
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    /// # Source
    /// RFC 9110 section 5.6.7 writes one moment in the three forms (from memory).
    #[test]
    fn the_moment_of_the_standard_is_written_in_its_three_forms() {
        let noted = SystemTime::UNIX_EPOCH + Duration::from_secs(784_111_777);
        let now = noted - Duration::from_secs(120);
        let span = Span::from_secs(120);
        assert_eq!(RetryAfter::Seconds(120).value(now), "120");
        assert_eq!(
            RetryAfter::Date(span).value(now),
            "Sun, 06 Nov 1994 08:49:37 GMT"
        );
        assert_eq!(
            RetryAfter::Rfc850Date(span).value(now),
            "Sunday, 06-Nov-94 08:49:37 GMT"
        );
        assert_eq!(
            RetryAfter::AsctimeDate(span).value(now),
            "Sun Nov  6 08:49:37 1994"
        );
    }
}
