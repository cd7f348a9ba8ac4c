//! Tags: whether they are used, and whether 304 is understood.

use std::collections::HashMap;
use std::time::Duration;

use super::asked::Asked;
use super::{Trace, Verdict, verify_all_claims};
use crate::event::{EventKind, ExchangeNumber};

/// Verifies that a watcher which was told tags asks with `If-None-Match`.
///
/// # Source
/// RFC 9110 section 13.1.2; RFC 9111 section 5.2.2.5: what comes with `no-store` may not be kept.
pub fn verify_asks_conditionally(trace: &Trace<'_>) -> Verdict {
    let (occasions, taken, last) = occasions(trace);
    match (occasions, taken) {
        (0, _) => Verdict::NotJudged {
            reason: "no answer had an ETag and was asked for again".to_owned(),
        },
        (1 | 2, 0) => Verdict::NotJudged {
            reason: "too few answers with an ETag were asked for again".to_owned(),
        },
        (_, 0) => Verdict::violated(
            last,
            "If-None-Match with the tag of the answer before",
            format!("{occasions} requests after an answer with an ETag, none with If-None-Match"),
        ),
        _ => Verdict::Held {
            note: format!("{taken} of {occasions} requests with If-None-Match"),
        },
    }
}

/// Counts the requests after an answer with a tag, those of them that name it, and gives the moment of
/// the last.
fn occasions(trace: &Trace<'_>) -> (usize, usize, Duration) {
    let mut targets: HashMap<ExchangeNumber, &str> = HashMap::new();
    let mut tags: HashMap<&str, &str> = HashMap::new();
    let (mut occasions, mut taken, mut last) = (0, 0, Duration::ZERO);
    for event in trace.events {
        match &event.kind {
            EventKind::Request {
                exchange, target, ..
            } => {
                targets.insert(*exchange, target);
                let Some(tag) = tags.get(target.as_str()) else {
                    continue;
                };
                occasions += 1;
                last = event.at;
                let names_it = Asked::all(std::slice::from_ref(event))
                    .first()
                    .and_then(|asked| asked.field("if-none-match"))
                    // Compared as a weak one: `W/` is no part of it.
                    .is_some_and(|list| list.contains(tag.trim_start_matches("W/")));
                taken += usize::from(names_it);
            }
            EventKind::Answer {
                exchange,
                status: 200,
                headers,
                ..
            } => {
                let field = |wanted: &str| {
                    let found = headers
                        .iter()
                        .find(|(name, _)| name.eq_ignore_ascii_case(wanted));
                    found.map(|(_, value)| value.as_str())
                };
                let may_keep = !field("cache-control").is_some_and(|it| it.contains("no-store"));
                let tag = field("etag").filter(|_| may_keep);
                let target = targets.get(exchange).copied().unwrap_or_default();
                match tag {
                    Some(tag) => tags.insert(target, tag),
                    None => tags.remove(target),
                };
            }
            _ => {}
        }
    }
    (occasions, taken, last)
}

/// Verifies that 304 is taken for the body that was kept: every claim is held against the answers, of
/// which it is one, and it does not make the watcher say unknown.
///
/// # Source
/// RFC 9110 section 15.4.5.
pub fn verify_not_modified(trace: &Trace<'_>) -> Verdict {
    let not_modified: Vec<Duration> = trace
        .events
        .iter()
        .filter(|event| matches!(event.kind, EventKind::Answer { status: 304, .. }))
        .map(|event| event.at)
        .collect();
    let count = not_modified.len();
    if count == 0 {
        return Verdict::NotJudged {
            reason: "the watcher never asked with If-None-Match for what it had".to_owned(),
        };
    }
    let feared: Vec<Duration> = not_modified
        .iter()
        .filter_map(|at| unknown_after(trace, *at))
        .collect();
    // A watcher that asks anew after it claims at every second answer, so that no claim is missing for
    // long. Once may be a time-out on a strained machine.
    if let [_, second, ..] = feared[..] {
        return Verdict::violated(
            second,
            "what the body kept says, after 304",
            format!("unknown after {} of {count} answers 304", feared.len()),
        );
    }
    verify_all_claims(trace).and_then(|| Verdict::Held {
        note: format!("{count} answers 304"),
    })
}

/// Gives the moment of a claim of unknown that rests on an answer of another moment: the first claim
/// after it, and before the next answer.
fn unknown_after(trace: &Trace<'_>, answered: Duration) -> Option<Duration> {
    let next = trace
        .answers
        .iter()
        .find(|answer| answer.at > answered)
        .map_or(trace.end, |next| next.at);
    let (at, first) = trace.sightings.iter().find(|(at, _)| *at > answered)?;
    (*at <= next && first.says_unknown()).then_some(*at)
}
