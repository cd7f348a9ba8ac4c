//! An answer that waits until there is news for the client.

use bytes::Bytes;
use http::header::IF_NONE_MATCH;
use http::{HeaderMap, HeaderValue, Method, StatusCode, request};

use super::feed::{Entry, Look};
use super::follower::Follower;
use super::place::Place;
use super::{Begun, grid};
use crate::dialect::{Answer, AtTimeout, LongPollPlan, PushPlan};

/// Waits until the body is another than the one the client says it has, or the time is over.
///
/// A client says what it has by the number it was given, or else by a tag in `If-None-Match`; one
/// that says nothing is answered at once, and so is HEAD. `None` when the host has gone meanwhile.
/// When the client leaves, the connection drops this future, and nothing of it stays.
///
/// Of the faults of streams, silence keeps any answer back, also beyond the time; an end of the stream
/// is an answer as when the time is over.
///
/// # Source
/// RFC 6202 section 2.1 (long polling); RFC 9110 section 13.1.2 (`If-None-Match`).
pub(super) async fn answer(
    place: &Place,
    head: &request::Parts,
    plan: &PushPlan,
    form: &LongPollPlan,
) -> Option<Begun> {
    let shared = &place.shared;
    let had = Had::by(head, form);
    let mut waits = head.method != Method::HEAD;
    // At the very moment of a look the time is over only after it.
    let mut over = std::pin::pin!(tokio::time::sleep(form.timeout));
    let epoch = shared.printer().epoch();
    let mut looks = grid::looks(epoch, plan.period);
    let mut follower = Follower::new(plan);
    let mut changes = shared.faults.changes();
    loop {
        let is_cut = place.connection.meet_before(shared);
        if let Some((answer, truth)) = place.refusal() {
            return Some(Begun::whole(answer, truth));
        }
        let look = place.look();
        let has_lost = match &look {
            Look::State { truth, .. } | Look::Nothing { truth, .. } => follower.has_lost(truth),
            Look::Away => true,
        };
        if has_lost {
            return None;
        }
        let faults = place.faults();
        let ends = is_cut || faults.closed.is_some() || shared.stop.is_cancelled();
        if faults.silent && !ends {
            tokio::select! {
                _ = looks.tick() => {}
                // The sender lives in the board that `shared` holds.
                _ = changes.changed() => {}
                () = shared.stop.cancelled() => {}
            }
            continue;
        }
        waits &= !ends;
        let (entry, answer, truth) = match look {
            Look::State {
                entry,
                answer,
                truth,
            } => (entry, answer, truth),
            Look::Nothing { answer, truth } => return Some(Begun::whole(answer, truth)),
            Look::Away => return None,
        };
        let news = had.is_other_than(&entry, &answer);
        if news || !waits {
            let answer = if news {
                answer
            } else {
                form.at_timeout.of(answer)
            };
            return Some(Begun::whole(numbered(answer, &entry, form), truth));
        }
        tokio::select! {
            biased;
            _ = looks.tick() => {}
            // Once more, so that what has changed since the last look is not kept from the client.
            _ = changes.changed() => {}
            () = over.as_mut() => waits = false,
            () = shared.stop.cancelled() => waits = false,
        }
    }
}

/// Says what a client has.
enum Had {
    Nothing,
    Number(Option<u64>),
    Tags(HeaderMap),
}

impl Had {
    fn by(head: &request::Parts, form: &LongPollPlan) -> Self {
        let since = form.ids.as_ref().and_then(|ids| {
            let query = head.uri.query().unwrap_or_default();
            form_urlencoded::parse(query.as_bytes())
                .find(|(name, _)| *name == ids.since)
                .map(|(_, value)| value.parse().ok())
        });
        if let Some(number) = since {
            return Self::Number(number);
        }
        let tags: HeaderMap = head
            .headers
            .get_all(IF_NONE_MATCH)
            .iter()
            .map(|tag| (IF_NONE_MATCH, tag.clone()))
            .collect();
        if tags.is_empty() {
            Self::Nothing
        } else {
            Self::Tags(tags)
        }
    }

    fn is_other_than(&self, entry: &Entry, answer: &Answer) -> bool {
        match self {
            Self::Nothing => true,
            // A number that was never given, or not lately, stands for a state that is past.
            Self::Number(number) => *number != Some(entry.id),
            Self::Tags(tags) => answer.clone().conditional(tags).status == StatusCode::OK,
        }
    }
}

impl AtTimeout {
    /// Makes the answer without news from the one with the body.
    fn of(self, answer: Answer) -> Answer {
        match self {
            Self::Body => answer,
            Self::NoContent => Answer {
                status: StatusCode::NO_CONTENT,
                ..bodiless(answer)
            },
            Self::NotModified => {
                let any = HeaderMap::from_iter([(IF_NONE_MATCH, HeaderValue::from_static("*"))]);
                answer.conditional(&any)
            }
        }
    }
}

/// Takes the body away with the fields that speak of it (RFC 9110 section 8).
fn bodiless(mut answer: Answer) -> Answer {
    use http::header::{CONTENT_LENGTH, CONTENT_TYPE, ETAG};
    for name in [CONTENT_LENGTH, CONTENT_TYPE, ETAG] {
        answer.headers.remove(name);
    }
    answer.body = Bytes::new();
    answer
}

/// Tells the client the number of the state.
fn numbered(mut answer: Answer, entry: &Entry, form: &LongPollPlan) -> Answer {
    if let Some(ids) = &form.ids {
        let number = HeaderValue::from(entry.id);
        answer.headers.insert(ids.header.clone(), number);
    }
    answer
}
