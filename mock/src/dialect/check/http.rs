//! How the host speaks HTTP, as written -> checked [`HttpBehaviour`].

use std::ops::RangeInclusive;
use std::time::Duration;

use crate::dialect::file::Spanned;
use http::Version;

use super::cors;
use super::reader::Reader;
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file;
use crate::dialect::http_behaviour::{GzipUse, HeaderCase, HttpBehaviour, LengthForm};

/// After how many answers a connection may close. Chosen: more is as good as never.
const REQUESTS: RangeInclusive<u64> = 1..=1_000_000;

/// How long a connection may be kept idle, in seconds. Chosen: a second is the shortest that hosts
/// are set to, a day is as good as for ever.
const IDLE_S: RangeInclusive<u64> = 1..=86_400;

/// How far the date may be off, in seconds. Chosen: some ten years, as after a flat clock battery.
const SKEW_S: RangeInclusive<i64> = -315_360_000..=315_360_000;

/// Checks `[http]`.
///
/// # Errors
/// The first thing that is wrong with it.
pub(super) fn check(
    reader: &Reader<'_>,
    raw: Option<&file::Http>,
) -> Result<HttpBehaviour, DialectError> {
    let Some(raw) = raw else {
        return Ok(HttpBehaviour::default());
    };
    let version = version(reader, raw)?;
    persistence_fits(reader, raw, version)?;
    let date = raw.date.as_ref().is_none_or(|date| *date.get_ref());
    if let Some(skew) = &raw.date_skew_s
        && !date
    {
        return Err(both(
            reader,
            skew,
            "http.date-skew-s",
            "`date-skew-s`",
            "`date = false`",
        ));
    }
    Ok(HttpBehaviour {
        version,
        keep_alive: raw.keep_alive.as_ref().is_none_or(|keep| *keep.get_ref()),
        keep_alive_requests: reader.within_if_there(
            "http.keep-alive-requests",
            raw.keep_alive_requests.as_ref(),
            REQUESTS,
            "requests",
        )?,
        keep_alive_idle: reader
            .within_if_there(
                "http.keep-alive-idle-s",
                raw.keep_alive_idle_s.as_ref(),
                IDLE_S,
                "s",
            )?
            .map(Duration::from_secs),
        length: length(reader, raw, version)?,
        gzip: reader.one_of(
            "http.gzip",
            raw.gzip.as_ref(),
            &[
                ("never", GzipUse::Never),
                ("when-asked", GzipUse::WhenAsked),
                ("always", GzipUse::Always),
            ],
        )?,
        header_case: reader.one_of(
            "http.header-case",
            raw.header_case.as_ref(),
            &[("lower", HeaderCase::Lower), ("title", HeaderCase::Title)],
        )?,
        date,
        date_skew_s: reader
            .within_if_there("http.date-skew-s", raw.date_skew_s.as_ref(), SKEW_S, "s")?
            .unwrap_or(0),
        host_field: raw.host_field.unwrap_or(true),
        cors: raw
            .cors
            .as_ref()
            .map(|raw| cors::check(reader, raw))
            .transpose()?,
    })
}

fn version(reader: &Reader<'_>, raw: &file::Http) -> Result<Version, DialectError> {
    reader.one_of(
        "http.version",
        raw.version.as_ref(),
        &[("1.1", Version::HTTP_11), ("1.0", Version::HTTP_10)],
    )
}

/// Checks that nothing is said of how long a connection is kept where none is.
///
/// # Source
/// RFC 9112 section 9.3; RFC 1945 section 1.3 (HTTP/1.0: a connection for each exchange).
fn persistence_fits(
    reader: &Reader<'_>,
    raw: &file::Http,
    version: Version,
) -> Result<(), DialectError> {
    let old = "`version = \"1.0\"`, whose connections end with each answer,";
    if let Some(keep) = &raw.keep_alive
        && *keep.get_ref()
        && version == Version::HTTP_10
    {
        return Err(both(
            reader,
            keep,
            "http.keep-alive",
            "`keep-alive = true`",
            old,
        ));
    }
    let never_kept = if version == Version::HTTP_10 {
        old
    } else if raw.keep_alive.as_ref().is_some_and(|keep| !*keep.get_ref()) {
        "`keep-alive = false`"
    } else {
        return Ok(());
    };
    for (value, field, name) in [
        (
            &raw.keep_alive_requests,
            "http.keep-alive-requests",
            "`keep-alive-requests`",
        ),
        (
            &raw.keep_alive_idle_s,
            "http.keep-alive-idle-s",
            "`keep-alive-idle-s`",
        ),
    ] {
        if let Some(value) = value {
            return Err(both(reader, value, field, name, never_kept));
        }
    }
    Ok(())
}

/// Checks how the end of a body is told.
///
/// # Source
/// RFC 9112 section 6.1: HTTP/1.0 has no chunks.
fn length(
    reader: &Reader<'_>,
    raw: &file::Http,
    version: Version,
) -> Result<LengthForm, DialectError> {
    let field = "http.length";
    let length = reader.one_of(
        field,
        raw.length.as_ref(),
        &[
            ("content-length", LengthForm::ContentLength),
            ("chunked", LengthForm::Chunked),
        ],
    )?;
    match &raw.length {
        Some(text) if length == LengthForm::Chunked && version == Version::HTTP_10 => Err(both(
            reader,
            text,
            field,
            "`length = \"chunked\"`",
            "`version = \"1.0\"` (RFC 9112 section 6.1)",
        )),
        _ => Ok(length),
    }
}

fn both<T>(
    reader: &Reader<'_>,
    place: &Spanned<T>,
    field: &str,
    one: &'static str,
    other: &'static str,
) -> DialectError {
    let problem = DialectProblem::Both { one, other };
    reader.error(place.span().start, field, problem)
}
