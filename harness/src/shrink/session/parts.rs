//! A session without some of its parts. Pure.

use std::collections::BTreeSet;

use coldbed_session::{Answer, Body, Content, Exchange, Outcome, Pushed, Session};
use serde_json::Value;

/// Gives the session with these exchanges alone, and the connections that they are on.
pub(super) fn with_exchanges(session: &Session, kept: &[u64]) -> Session {
    let mut part = session.clone();
    part.exchanges
        .retain(|exchange| kept.binary_search(&exchange.number).is_ok());
    let used: BTreeSet<u64> = part
        .exchanges
        .iter()
        .map(|exchange| exchange.connection)
        .collect();
    part.connections
        .retain(|connection| used.contains(&connection.number));
    part
}

/// Gives the session with one exchange's answer changed.
pub(super) fn with_answer(
    session: &Session,
    number: u64,
    change: impl FnOnce(&mut Answer),
) -> Session {
    let mut changed = session.clone();
    let found = changed
        .exchanges
        .iter_mut()
        .find(|exchange| exchange.number == number);
    if let Some(Exchange {
        outcome: Some(Outcome::Answered(answer)),
        ..
    }) = found
    {
        change(answer);
    }
    changed
}

/// Gives the session with one answer's body replaced by a JSON text.
pub(super) fn with_json(session: &Session, number: u64, value: &Value) -> Session {
    with_answer(session, number, |answer| {
        answer.set_body(Body::Text(value.to_string()));
    })
}

/// Gives the session with one stream's pushed pieces at these places alone.
pub(super) fn with_pushed(session: &Session, number: u64, kept: &[usize]) -> Session {
    with_answer(session, number, |answer| {
        if let Content::Stream { pushed, .. } = &mut answer.content {
            let mut index = 0;
            pushed.retain(|_| {
                index += 1;
                kept.binary_search(&(index - 1)).is_ok()
            });
        }
    })
}

/// Gives the session with one answer's fields at these places alone.
pub(super) fn with_fields(session: &Session, number: u64, kept: &[usize]) -> Session {
    with_answer(session, number, |answer| {
        let body = answer.body().cloned();
        let mut index = 0;
        answer.fields.retain(|(name, _)| {
            index += 1;
            is_framing(name) || kept.binary_search(&(index - 1)).is_ok()
        });
        // The pieces count the head, too.
        if let Some(body) = body {
            answer.set_body(body);
        }
    })
}

/// Gives the places of the fields that an answer can do without.
pub(super) fn fields_of(answer: &Answer) -> Vec<usize> {
    let fields = answer.fields.iter().enumerate();
    fields
        .filter(|(_, (name, _))| !is_framing(name))
        .map(|(index, _)| index)
        .collect()
}

/// Gives how many pieces a stream has; 0 for what is no stream.
pub(super) fn pushed_of(answer: &Answer) -> usize {
    match &answer.content {
        Content::Stream { pushed, .. } => pushed.len(),
        Content::Whole { .. } => 0,
    }
}

/// Gives the JSON of a whole answer. One that was cut or is kept raw is left as it is: its bytes are what
/// matters.
pub(super) fn json_of(answer: &Answer) -> Option<Value> {
    let Content::Whole {
        body: Body::Text(text),
        raw: None,
        ..
    } = &answer.content
    else {
        return None;
    };
    let is_whole = answer
        .ended
        .is_some_and(|(_, end)| end == coldbed_session::End::Complete);
    if !is_whole {
        return None;
    }
    serde_json::from_str(text).ok()
}

/// Counts the bytes of all bodies.
pub(super) fn body_bytes(session: &Session) -> u64 {
    let answers = session.exchanges.iter().filter_map(Exchange::answer);
    answers
        .map(|answer| match &answer.content {
            Content::Whole { body, .. } => body.len(),
            Content::Stream { pushed, .. } => pushed
                .iter()
                .map(|(_, pushed)| match pushed {
                    Pushed::Bytes(body) => body.len(),
                    Pushed::Frame(frame) => frame.body.len(),
                })
                .sum(),
        })
        .sum()
}

fn is_framing(name: &str) -> bool {
    name.eq_ignore_ascii_case("content-length")
        || name.eq_ignore_ascii_case("transfer-encoding")
        || name.eq_ignore_ascii_case("content-type")
}
