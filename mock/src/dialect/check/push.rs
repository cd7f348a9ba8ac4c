//! How a route pushes, as written -> checked [`PushPlan`].

use std::ops::RangeInclusive;
use std::time::Duration;

use http::HeaderValue;

use super::reader::Reader;
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::{self, Spanned};
use crate::dialect::push_plan::{
    AtTimeout, EventStreamPlan, LongPollIds, LongPollPlan, PingPlan, PushForm, PushMessages,
    PushOn, PushPlan, WebSocketPlan,
};

/// The shortest and the longest time between two looks of a push, in milliseconds.
///
/// Chosen: below 10 ms the host would do nothing else, an hour is longer than any client waits.
const PERIOD_MS: RangeInclusive<u64> = 10..=3_600_000;

/// The silence after which a comment is sent, unless the file says otherwise.
///
/// # Source
/// WHATWG HTML, "Server-sent events", authoring notes: "every 15 seconds or so" (from memory).
const KEEP_ALIVE_S: u64 = 15;

/// The reconnection time, unless the file says otherwise: "a few seconds" (same source, from
/// memory).
const RETRY_MS: u64 = 2000;

/// The time between two pings and the time for the pong, unless the file says otherwise.
///
/// Chosen: shorter than a minute, after which home routers may forget a silent connection (common
/// practice), and longer than a sleeping radio takes to wake.
const PING_S: u64 = 30;
const PONG_WITHIN_S: u64 = 10;

/// How long an answer waits for news, unless the file says otherwise.
///
/// # Source
/// RFC 6202 section 5.5: 30 s is the safer value, up to 120 s has been seen to work (from memory).
const TIMEOUT_S: u64 = 30;

/// The longest of the times above that a file may ask for, in seconds: an hour, as for the period.
const MOST_S: u64 = 3600;

/// The forms with the keys that each has besides `form` and `period-ms`.
const FORMS: [(&str, &[&str]); 3] = [
    (
        "server-sent-events",
        &[
            "on",
            "messages",
            "event",
            "patch-event",
            "keep-alive-s",
            "retry-ms",
        ],
    ),
    (
        "websocket",
        &["on", "messages", "ping-s", "pong-within-s", "subprotocol"],
    ),
    (
        "long-poll",
        &["timeout-s", "since", "id-header", "at-timeout"],
    ),
];

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
    let keys = Keys {
        reader,
        field: format!("{field}.push"),
    };
    let form = keys.form(push)?;
    let both = |one, other| reader.error(start, field, DialectProblem::Both { one, other });
    if raw.method.get_ref() != "GET" || raw.status.is_some() {
        return Err(both("`push`", "a method other than GET, or a status,"));
    }
    if raw.content_type.is_some() && form == "websocket" {
        return Err(both("`content-type`", "form `websocket`"));
    }
    let period_ms = keys.within("period-ms", &push.period_ms, PERIOD_MS, "ms")?;
    let messages = keys.one_of(
        "messages",
        push.messages.as_ref(),
        &[
            ("full", PushMessages::Full),
            ("merge-patch", PushMessages::MergePatch),
        ],
    )?;
    Ok(PushPlan {
        period: Duration::from_millis(period_ms),
        on: keys.one_of(
            "on",
            push.on.as_ref(),
            &[("change", PushOn::Change), ("period", PushOn::Period)],
        )?,
        messages,
        form: match form {
            "websocket" => PushForm::WebSocket(keys.websocket(push)?),
            "long-poll" => PushForm::LongPoll(keys.long_poll(push)?),
            _ => PushForm::ServerSentEvents(keys.event_stream(push, messages)?),
        },
    })
}

/// Checks single keys of one `push` table.
struct Keys<'a> {
    reader: &'a Reader<'a>,
    field: String,
}

impl Keys<'_> {
    /// Gives the form, with every key that is there belonging to it.
    fn form(&self, push: &file::Push) -> Result<&'static str, DialectError> {
        let written = push.form.get_ref();
        let Some((form, keys)) = FORMS.into_iter().find(|(form, _)| form == written) else {
            let forms = FORMS.map(|(form, _)| form);
            let allowed = format!("one of {}", forms.join(", "));
            return Err(self.not_allowed("form", &push.form, &allowed, &forms));
        };
        for (key, start) in push.keys() {
            if !keys.contains(&key) {
                let problem = DialectProblem::NotOfForm {
                    form,
                    keys: keys.join("`, `"),
                };
                return Err(self.error(start, key, problem));
            }
        }
        Ok(form)
    }

    fn event_stream(
        &self,
        push: &file::Push,
        messages: PushMessages,
    ) -> Result<EventStreamPlan, DialectError> {
        if let Some(name) = &push.patch_event
            && messages == PushMessages::Full
        {
            let problem = DialectProblem::Both {
                one: "`patch-event`",
                other: "full messages",
            };
            return Err(self.error(name.span().start, "patch-event", problem));
        }
        let keep_alive_s =
            self.seconds("keep-alive-s", push.keep_alive_s.as_ref(), KEEP_ALIVE_S, 1)?;
        let retry_ms = match &push.retry_ms {
            Some(retry) => self.within("retry-ms", retry, 0..=1000 * MOST_S, "ms")?,
            None => RETRY_MS,
        };
        Ok(EventStreamPlan {
            event: self.event_name("event", push.event.as_ref())?,
            patch_event: self.event_name("patch-event", push.patch_event.as_ref())?,
            keep_alive: Duration::from_secs(keep_alive_s),
            retry: Duration::from_millis(retry_ms),
        })
    }

    /// Checks the name of an event: a line, and not nothing, which a client reads as no name.
    fn event_name(
        &self,
        key: &str,
        name: Option<&file::Text>,
    ) -> Result<Option<String>, DialectError> {
        let Some(name) = name else {
            return Ok(None);
        };
        let text = name.get_ref();
        // A NUL would do no harm in the standard's parser, and does in others.
        if text.is_empty() || text.contains(['\r', '\n', '\0']) {
            let allowed = "one line of text (WHATWG HTML, \"Server-sent events\")";
            return Err(self.not_allowed(key, name, allowed, &[]));
        }
        Ok(Some(text.clone()))
    }

    fn websocket(&self, push: &file::Push) -> Result<WebSocketPlan, DialectError> {
        let every_s = self.seconds("ping-s", push.ping_s.as_ref(), PING_S, 0)?;
        let default_s = PONG_WITHIN_S.min(every_s);
        let pong = push.pong_within_s.as_ref();
        let pong_within_s = match pong {
            // A pong that may come later than the next ping would make it unclear which is missing.
            Some(pong) if every_s > 0 => self.within(
                "pong-within-s",
                pong,
                1..=every_s,
                "s, no more than `ping-s`",
            )?,
            Some(pong) => {
                let problem = DialectProblem::Both {
                    one: "`pong-within-s`",
                    other: "`ping-s = 0`",
                };
                return Err(self.error(pong.span().start, "pong-within-s", problem));
            }
            None => default_s,
        };
        Ok(WebSocketPlan {
            pings: (every_s > 0).then_some(PingPlan {
                every: Duration::from_secs(every_s),
                pong_within: Duration::from_secs(pong_within_s),
            }),
            subprotocol: match &push.subprotocol {
                Some(name) => Some(self.subprotocol(name)?),
                None => None,
            },
        })
    }

    fn subprotocol(&self, name: &file::Text) -> Result<HeaderValue, DialectError> {
        let text = name.get_ref();
        let allowed = "a token (RFC 9110 section 5.6.2, as RFC 6455 section 4.1 asks)";
        let wrong = || self.not_allowed("subprotocol", name, allowed, &[]);
        if text.is_empty() || !text.bytes().all(is_token_byte) {
            return Err(wrong());
        }
        HeaderValue::try_from(text).map_err(|_| wrong())
    }

    fn long_poll(&self, push: &file::Push) -> Result<LongPollPlan, DialectError> {
        let timeout_s = self.seconds("timeout-s", push.timeout_s.as_ref(), TIMEOUT_S, 1)?;
        Ok(LongPollPlan {
            timeout: Duration::from_secs(timeout_s),
            ids: self.ids(push)?,
            at_timeout: self.at_timeout(push)?,
        })
    }

    fn ids(&self, push: &file::Push) -> Result<Option<LongPollIds>, DialectError> {
        let (since, header) = match (&push.since, &push.id_header) {
            (None, None) => return Ok(None),
            (Some(since), Some(header)) => (since, header),
            (Some(since), None) => {
                let problem = DialectProblem::Missing {
                    what: "`id-header`, from which a client learns the number,",
                };
                return Err(self.error(since.span().start, "since", problem));
            }
            (None, Some(header)) => {
                let problem = DialectProblem::Missing {
                    what: "`since`, with which a client tells the number,",
                };
                return Err(self.error(header.span().start, "id-header", problem));
            }
        };
        if since.get_ref().is_empty() {
            return Err(self.not_allowed("since", since, "the name of a query parameter", &[]));
        }
        let field = self.field("id-header");
        Ok(Some(LongPollIds {
            since: since.get_ref().clone(),
            header: self
                .reader
                .header_name(&field, header.get_ref(), header.span().start)?,
        }))
    }

    fn at_timeout(&self, push: &file::Push) -> Result<AtTimeout, DialectError> {
        let Some(status) = &push.at_timeout else {
            return Ok(AtTimeout::NoContent);
        };
        match status.get_ref() {
            200 => Ok(AtTimeout::Body),
            204 => Ok(AtTimeout::NoContent),
            304 => Ok(AtTimeout::NotModified),
            _ => {
                let field = self.field("at-timeout");
                Err(self
                    .reader
                    .bad_number(&field, status, "one of 200, 204, 304"))
            }
        }
    }

    fn seconds(
        &self,
        key: &str,
        value: Option<&Spanned<u64>>,
        default: u64,
        least: u64,
    ) -> Result<u64, DialectError> {
        match value {
            Some(value) => self.within(key, value, least..=MOST_S, "s"),
            None => Ok(default),
        }
    }

    fn within(
        &self,
        key: &str,
        value: &Spanned<u64>,
        range: RangeInclusive<u64>,
        unit: &str,
    ) -> Result<u64, DialectError> {
        self.reader.within(&self.field(key), value, range, unit)
    }

    fn one_of<T: Copy>(
        &self,
        key: &str,
        word: Option<&file::Text>,
        known: &[(&str, T)],
    ) -> Result<T, DialectError> {
        self.reader.one_of(&self.field(key), word, known)
    }

    fn not_allowed(
        &self,
        key: &str,
        value: &file::Text,
        allowed: &str,
        known: &[&str],
    ) -> DialectError {
        self.reader
            .not_allowed(&self.field(key), value, allowed, known)
    }

    fn field(&self, key: &str) -> String {
        format!("{}.{key}", self.field)
    }

    fn error(&self, start: usize, key: &str, problem: DialectProblem) -> DialectError {
        self.reader.error(start, &self.field(key), problem)
    }
}

/// Tells whether a byte may stand in a token.
///
/// # Source
/// RFC 9110 section 5.6.2.
fn is_token_byte(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || b"!#$%&'*+-.^_`|~".contains(&byte)
}
