//! Pushes: bodies sent by the host when they have changed.
//!
//! Owns: the states a route has shown ([`feed`]), what each follower has seen of them
//! ([`follower`]), and the forms they are sent in: a stream of events, a WebSocket, an answer that
//! waits.
//! Does not own: what a body says (the dialect), how bytes reach the client (the connection).
//!
//! Nothing runs for a route that nobody follows.

mod boot;
mod event_stream;
mod event_text;
mod feed;
mod follower;
mod grid;
mod handshake;
mod long_poll;
mod place;
mod pong_filter;
mod websocket;

#[cfg(test)]
mod tests;

use std::sync::Arc;

use http::{Method, StatusCode, request};

use super::ExchangeId;
use super::connection::Connection;
use super::shared::Shared;
use crate::dialect::{Answer, Matched, PushForm};
use crate::sim::Truth;

use place::Place;

pub(super) use event_stream::PushBody;
pub(super) use feed::Feeds;
pub(super) use websocket::SessionSlot;

/// Is the beginning of a push.
pub(super) struct Begun {
    /// The head of the stream, or the whole answer.
    pub(super) answer: Answer,
    /// What was true when it was made.
    pub(super) truth: Arc<Truth>,
    /// The stream of events, where there is one.
    pub(super) events: Option<PushBody>,
    /// Whether what follows has no end of its own.
    pub(super) endless: bool,
}

impl Begun {
    fn whole(answer: Answer, truth: Arc<Truth>) -> Self {
        Self {
            answer,
            truth,
            events: None,
            endless: false,
        }
    }
}

/// Begins to push, or waits for the answer of a long poll; `None` when the host has gone meanwhile
/// and gives no answer.
///
/// `answer` is the head of the stream with the `truth` that the route exists in.
pub(super) async fn begin(
    shared: &Arc<Shared>,
    connection: &Connection,
    exchange: ExchangeId,
    head: &mut request::Parts,
    matched: Matched,
    (answer, truth): (Answer, Arc<Truth>),
) -> Option<Begun> {
    let dialect = Arc::clone(shared.dialects.of(&matched));
    let Some(plan) = dialect.push_plan(matched.route).cloned() else {
        return Some(Begun::whole(answer, truth));
    };
    let place = Place::new(shared, connection, exchange, head, matched);
    match plan.form.clone() {
        PushForm::ServerSentEvents(form) => {
            // To HEAD the stream is answered too, and never asked for a piece: its head has no
            // length then, like that of GET.
            let endless = head.method != Method::HEAD;
            let events = Some(PushBody::new(place, &plan, form, &head.headers));
            Some(Begun {
                answer,
                truth,
                events,
                endless,
            })
        }
        PushForm::WebSocket(form) => {
            let answer = match handshake::accept(head, &form, answer) {
                Ok((upgrade, answer)) => {
                    connection
                        .session
                        .put(websocket::Session::new(place, plan, form, upgrade));
                    answer
                }
                Err(problem) => dialect.problem(&problem),
            };
            Some(Begun {
                endless: answer.status == StatusCode::SWITCHING_PROTOCOLS,
                ..Begun::whole(answer, truth)
            })
        }
        PushForm::LongPoll(form) => long_poll::answer(&place, head, &plan, &form).await,
    }
}
