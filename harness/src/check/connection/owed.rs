//! What is owed under each fault: one row for each.
//!
//! The second word of a row is what the watcher owes ([`Owed`](crate::oracle::Owed)).

use coldbed_mock::dialect::AuthScheme;
use coldbed_mock::fault::{Fault, Position, Probability, RetryAfter, Scope, ScopedFault, Span};
use coldbed_mock::sim::Simulation;
use http::{StatusCode, Version};
use std::sync::Arc;

use super::outage;
use super::row::{ROW, row};
use crate::check::clips::finished;
use crate::check::{Check, Context, Level, NotPlanned, Plan};
use crate::oracle;

pub(in crate::check) const CHECKS: &[Check] = &[
    // The network and the connections.
    row!(
        "refused-connection",
        Unknown,
        Fault::Refuse,
        "nobody listens at the host's address",
        "RFC 9293 section 3.10.7.1"
    ),
    row!(
        "unreachable-host",
        Unknown,
        Fault::Unreachable,
        "no packet comes or goes",
        "RFC 1122 section 4.2.3.5: a client has a time-out of its own"
    ),
    row!(
        "silent-host",
        Unknown,
        Fault::Silent,
        "the host takes connections and sends not a byte",
        "common practice: no wait without end"
    ),
    row!(
        "half-open-connection",
        RightAgain,
        Fault::HalfOpen,
        "every open connection is dead without a word and new ones work",
        "RFC 9293 section 3.5.1"
    ),
    row!(
        "idle-connection-closed",
        Right,
        Fault::CloseIdle { after: Span::ZERO },
        "the host closes each connection as soon as it is idle",
        "RFC 9112 section 9.5"
    ),
    row!(
        "connection-closed-on-reuse",
        Right,
        Fault::CloseOnReuse { reset: false },
        "the second request of a connection finds it closed",
        "RFC 9112 section 9.5"
    ),
    row!(
        "connection-reset-on-reuse",
        Right,
        Fault::CloseOnReuse { reset: true },
        "the second request of a connection finds it reset",
        "RFC 9112 section 9.5"
    ),
    row!(
        "unasked-data",
        RightOrUnknown,
        Fault::UnaskedData { text: None },
        "a new connection begins with an answer nobody has asked for",
        "RFC 9112 section 9.2"
    ),
    row!(
        "greeting-before-the-answer",
        RightOrUnknown,
        Fault::UnaskedData {
            text: Some("220 ready\r\n".to_owned())
        },
        "a new connection begins with a greeting that is no HTTP",
        "RFC 9112 section 4"
    ),
    // Answers that are cut.
    row!(
        "reset-connection",
        Unknown,
        Fault::reset_at(Position::Start),
        "the host resets every connection before it answers",
        "RFC 9293 section 3.5.2"
    ),
    row!(
        "closed-before-the-answer",
        Unknown,
        Fault::Close {
            at: Position::Start
        },
        "the host closes every connection before it answers",
        "RFC 9112 section 8"
    ),
    row!(
        "head-cut",
        Unknown,
        Fault::Close {
            at: Position::Byte(20)
        },
        "the connection is closed in the head of each answer",
        "RFC 9112 section 8"
    ),
    row!(
        "body-missing",
        Unknown,
        Fault::Close {
            at: Position::HeadEnd
        },
        "the connection is closed after the head of each answer",
        "RFC 9112 section 8"
    ),
    Check {
        plan: |context| {
            let fault = Fault::reset_at(in_the_body(context));
            Ok(outage(context, fault))
        },
        ..row!(
            "body-cut-by-reset",
            Unknown,
            Fault::reset_at(Position::HeadEnd),
            "the connection is reset in the body of each answer",
            "RFC 9112 section 8"
        )
    },
    Check {
        plan: |context| {
            let fault = Fault::Close {
                at: in_the_body(context),
            };
            Ok(outage(context, fault))
        },
        ..row!(
            "body-cut-by-close",
            Unknown,
            Fault::reset_at(Position::HeadEnd),
            "the connection is closed in the body of each answer",
            "RFC 9112 section 8"
        )
    },
    Check {
        level: Level::Should,
        plan: missing_last_chunk,
        ..row!(
            "missing-last-chunk",
            Unknown,
            Fault::NoLastChunk,
            "the connection is closed instead of the last chunk",
            "RFC 9112 section 8: such a message is incomplete"
        )
    },
    row!(
        "content-length-too-long",
        RightOrUnknown,
        Fault::WrongLength { by: 20 },
        "more bytes are told than come and the connection stays open",
        "RFC 9112 section 8"
    ),
    Check {
        oracle: |trace, _| oracle::verify_short_length(trace),
        ..row!(
            "content-length-too-short",
            Unknown,
            Fault::WrongLength { by: -20 },
            "fewer bytes are told than the body has",
            "RFC 9112 section 6.3"
        )
    },
    // Answers that take long.
    row!(
        "answer-stalls-in-head",
        Unknown,
        Fault::Stall {
            at: Position::Byte(20)
        },
        "each answer stands still in its head",
        "common practice: no wait without end"
    ),
    Check {
        plan: |context| {
            let fault = Fault::Stall {
                at: in_the_body(context),
            };
            Ok(outage(context, fault))
        },
        ..row!(
            "answer-stalls-in-body",
            Unknown,
            Fault::reset_at(Position::HeadEnd),
            "each answer stands still in its body",
            "common practice: no wait without end"
        )
    },
    row!(
        "endless-slow-answer",
        Unknown,
        Fault::Drip {
            gap: Span::from_secs(1)
        },
        "each answer comes byte by byte, one a second",
        "common practice: a time-out for the whole exchange, not for each byte"
    ),
    row!(
        "late-answers",
        RightOrUnknown,
        Fault::Latency {
            of: Span::from_millis(500),
            jitter: Span::from_millis(500)
        },
        "each answer comes late, now more and now less",
        "common practice"
    ),
    row!(
        "slow-network",
        RightOrUnknown,
        Fault::Bandwidth {
            bytes_per_second: 2000
        },
        "each answer comes slowly",
        "common practice"
    ),
    // Answers that are not the one that was asked for.
    row!(
        "garbage-instead-of-http",
        Unknown,
        Fault::Garbage { text: None },
        "bytes come that are no HTTP",
        "RFC 9112 section 4"
    ),
    row!(
        "login-page-believed",
        Unknown,
        Fault::LoginPage,
        "the answer is a page that asks a person to log in, with 200",
        "RFC 6585 section 6"
    ),
    row!(
        "captive-portal-believed",
        Unknown,
        Fault::CaptivePortal,
        "each request is sent on to the log-in page of a network",
        "RFC 8952; RFC 6585 section 6"
    ),
    row!(
        "redirect-loop",
        Unknown,
        Fault::RedirectLoop {
            code: StatusCode::FOUND
        },
        "each request is sent on to where it came",
        "RFC 9110 section 15.4: a client SHOULD detect cyclical redirections"
    ),
    row!(
        "permanent-redirect-loop",
        Unknown,
        Fault::RedirectLoop {
            code: StatusCode::PERMANENT_REDIRECT
        },
        "each request is sent on for good to where it came",
        "RFC 9110 sections 15.4 and 15.4.9"
    ),
    row!(
        "error-status-believed",
        Unknown,
        Fault::status(StatusCode::INTERNAL_SERVER_ERROR),
        "the host answers 500",
        "RFC 9110 section 15.6.1"
    ),
    row!(
        "bad-gateway",
        Unknown,
        Fault::status(StatusCode::BAD_GATEWAY),
        "the host answers 502",
        "RFC 9110 section 15.6.3"
    ),
    row!(
        "service-unavailable",
        Unknown,
        Fault::status(StatusCode::SERVICE_UNAVAILABLE),
        "the host answers 503",
        "RFC 9110 section 15.6.4"
    ),
    row!(
        "gateway-timeout",
        Unknown,
        Fault::status(StatusCode::GATEWAY_TIMEOUT),
        "the host answers 504",
        "RFC 9110 section 15.6.5"
    ),
    row!(
        "too-many-requests",
        Unknown,
        Fault::Status {
            code: StatusCode::TOO_MANY_REQUESTS,
            retry_after: Some(RetryAfter::Seconds(2))
        },
        "the host answers 429 and asks for patience",
        "RFC 6585 section 4; RFC 9110 section 10.2.3"
    ),
    row!(
        "request-timed-out",
        Unknown,
        Fault::status(StatusCode::REQUEST_TIMEOUT),
        "the host answers 408 and closes the connection",
        "RFC 9110 section 15.5.9"
    ),
    row!(
        "not-found",
        Unknown,
        Fault::status(StatusCode::NOT_FOUND),
        "the host answers 404",
        "RFC 9110 section 15.5.5"
    ),
    row!(
        "access-forbidden",
        Unknown,
        Fault::status(StatusCode::FORBIDDEN),
        "the host answers 403",
        "RFC 9110 section 15.5.4"
    ),
    row!(
        "log-in-refused",
        Unknown,
        Fault::status(StatusCode::UNAUTHORIZED),
        "the host answers 401",
        "RFC 9110 section 15.5.2"
    ),
    Check {
        plan: key_revoked,
        ..row!(
            "key-revoked",
            Unknown,
            Fault::KeyRevoked,
            "the key is no longer good",
            "RFC 9110 section 15.5.2"
        )
    },
    row!(
        "no-content-taken-for-no-change",
        Unknown,
        Fault::status(StatusCode::NO_CONTENT),
        "the host answers 204",
        "RFC 9110 section 15.3.5: it tells of no state"
    ),
    Check {
        oracle: |trace, _| oracle::verify_unasked_not_modified(trace),
        ..row!(
            "unasked-not-modified",
            Unknown,
            Fault::status(StatusCode::NOT_MODIFIED),
            "the host answers 304 to who has asked for no comparison",
            "RFC 9110 section 15.4.5"
        )
    },
    // Answers that come whole, with something round them.
    row!(
        "answer-sent-twice",
        RightOrUnknownAndNotBehind,
        Fault::Twice,
        "each answer comes twice",
        "RFC 9112 section 9.2"
    ),
    row!(
        "bytes-after-the-answer",
        RightOrUnknown,
        Fault::TrailingData { text: None },
        "bytes that nobody asked for follow each answer",
        "RFC 9112 section 9.2"
    ),
    row!(
        "huge-header-field",
        RightOrUnknown,
        Fault::HugeHeader { bytes: 65_536 },
        "each answer has a field of 64 KiB",
        "RFC 9110 section 5.4: a client may have a limit"
    ),
    row!(
        "long-header-field",
        Right,
        Fault::HugeHeader { bytes: 2048 },
        "each answer has a field of 2 KiB",
        "RFC 9110 section 5.4; what is short enough for every client is common practice"
    ),
    // Rules of RFC 9110 all the same; widespread libraries read no interim answer, or only 100.
    Check {
        level: Level::Should,
        ..row!(
            "interim-answer",
            Right,
            Fault::Interim {
                code: 100,
                times: 1
            },
            "an interim answer 100 comes first",
            "RFC 9110 section 15.2: a client MUST be able to parse them"
        )
    },
    Check {
        level: Level::Should,
        ..row!(
            "several-interim-answers",
            Right,
            Fault::Interim {
                code: 103,
                times: 3
            },
            "three interim answers 103 come first",
            "RFC 9110 section 15.2; RFC 8297"
        )
    },
    Check {
        level: Level::Should,
        ..row!(
            "clock-skew",
            Right,
            Fault::ClockSkew { ahead_s: -7200.0 },
            "the host's `Date` is two hours behind",
            "RFC 9110 section 6.6.1; hosts without a clock are common practice"
        )
    },
    // Now and then.
    row!(
        "one-failed-answer",
        Right,
        once(Fault::status(StatusCode::INTERNAL_SERVER_ERROR)),
        "one answer of many is an error",
        "common practice: one failure is no reason to give up"
    ),
    row!(
        "one-reset-connection",
        Right,
        once(Fault::reset_at(Position::Start)),
        "one answer of many is a reset",
        "common practice: one failure is no reason to give up"
    ),
    row!(
        "intermittent-loss",
        RightOrUnknown,
        now_and_then(Fault::reset_at(Position::Start)),
        "three answers of ten are resets",
        "common practice: failures that come and go are no reason to give up"
    ),
];

/// Gives a place well within the longest body the host has, where most of what it tells is told. A
/// shorter one passes whole.
fn in_the_body(context: &Context) -> Position {
    let mut simulation = Simulation::new(Arc::clone(&context.scenario), 1);
    let truth = simulation.truth_at(finished(0, 0.1));
    let shown = context.dialect.first().preview(&truth);
    let bytes = shown.iter().map(|shown| {
        // It is shown over several lines and sent on one.
        let compact = serde_json::from_str::<serde_json::Value>(&shown.text);
        compact.map_or(shown.text.len(), |body| body.to_string().len())
    });
    Position::BodyByte(bytes.max().unwrap_or_default() as u64 * 4 / 5)
}

fn once(fault: Fault) -> ScopedFault {
    let scope = Scope::times(1);
    ScopedFault { fault, scope }
}

fn now_and_then(fault: Fault) -> ScopedFault {
    let scope = Scope {
        probability: Probability::new(0.3),
        seed: 5,
        ..Scope::default()
    };
    ScopedFault { fault, scope }
}

fn key_revoked(context: &Context) -> Result<Plan, NotPlanned> {
    match context.dialect.first().auth() {
        AuthScheme::None => Err(NotPlanned("the host asks for no key".to_owned())),
        _ => Ok(outage(context, Fault::KeyRevoked)),
    }
}

fn missing_last_chunk(context: &Context) -> Result<Plan, NotPlanned> {
    match context.dialect.first().http().version() >= Version::HTTP_11 {
        true => Ok(outage(context, Fault::NoLastChunk)),
        false => Err(NotPlanned(
            "the host speaks HTTP/1.0, which knows no chunks".to_owned(),
        )),
    }
}
