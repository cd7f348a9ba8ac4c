//! How a route pushes, as written -> checked [`PushPlan`].

use std::time::Duration;

use toml::Spanned;

use super::reader::Reader;
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file;
use crate::dialect::route::PushPlan;

/// The shortest and the longest time between two looks of a push, in milliseconds.
///
/// Chosen: below 10 ms the host would do nothing else, an hour is longer than any client waits.
const PERIOD_MS: std::ops::RangeInclusive<u64> = 10..=3_600_000;

/// The silence after which a comment is sent, unless the file says otherwise.
///
/// # Source
/// WHATWG HTML, "Server-sent events", authoring notes: "every 15 seconds or so" (from memory).
const KEEP_ALIVE_S: u64 = 15;

/// The reconnection time, unless the file says otherwise: "a few seconds" (same source, from
/// memory).
const RETRY_MS: u64 = 2000;

/// Checks how a route pushes.
///
/// # Errors
/// The first thing that is wrong with it.
pub(super) fn check(
    reader: &Reader<'_>,
    field: &str,
    raw: &file::Route,
    push: &Spanned<file::Push>,
) -> Result<PushPlan, DialectError> {
    let start = push.span().start;
    let push = push.get_ref();
    let form = "server-sent-events";
    if push.form.get_ref() != form {
        let field = format!("{field}.push.form");
        return Err(reader.not_allowed(&field, &push.form, "server-sent-events", &[form]));
    }
    if raw.method.get_ref() != "GET" || raw.status.is_some() {
        let problem = DialectProblem::Both {
            one: "`push`",
            other: "a method other than GET, or a status,",
        };
        return Err(reader.error(start, field, problem));
    }
    let period_ms = *push.period_ms.get_ref();
    if !PERIOD_MS.contains(&period_ms) {
        let problem = DialectProblem::NotAllowed {
            value: period_ms.to_string(),
            allowed: format!("{} to {} ms", PERIOD_MS.start(), PERIOD_MS.end()),
            hint: None,
        };
        let field = format!("{field}.push.period-ms");
        return Err(reader.error(push.period_ms.span().start, &field, problem));
    }
    let or = |value: &Option<Spanned<u64>>, default| {
        value.as_ref().map_or(default, |value| *value.get_ref())
    };
    Ok(PushPlan {
        period: Duration::from_millis(period_ms),
        keep_alive: Duration::from_secs(or(&push.keep_alive_s, KEEP_ALIVE_S).max(1)),
        retry: Duration::from_millis(or(&push.retry_ms, RETRY_MS)),
    })
}
