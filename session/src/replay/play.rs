//! What goes out for one exchange, and when. Pure.

use std::time::Duration;

use bytes::Bytes;

use crate::format::{End, Framing, Sender, StreamKind};
use crate::http::websocket::host_frame;
use crate::model::{Answer, Content, Exchange, Outcome, Pushed};
use crate::wire::MADE_UP_LIMIT_BYTES;

/// Is what goes out for one exchange.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Play {
    /// Bytes, each with how long after the request they go out.
    pub(super) pieces: Vec<(Duration, Bytes)>,
    /// How long after the request it ends, and how.
    pub(super) ends: (Duration, Ends),
    /// Whether the pieces after the head are pushed.
    pub(super) is_stream: bool,
}

/// Says how an answer ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ends {
    /// It is whole; the connection goes on.
    Whole,
    /// The connection is closed.
    Closed,
    /// The connection is reset.
    Reset,
    /// Nothing more comes, for as long as the watcher waits.
    Silent,
}

impl Play {
    /// Gives what goes out. Of a stream that is joined in the middle, what was pushed from then on.
    pub(super) fn of(
        exchange: &Exchange,
        joined_after: Duration,
        own: Option<(&str, &str)>,
    ) -> Self {
        let asked = exchange.request.at;
        let since = |at: Duration| at.saturating_sub(asked);
        match &exchange.outcome {
            None => Self {
                pieces: Vec::new(),
                ends: (Duration::ZERO, Ends::Silent),
                is_stream: false,
            },
            Some(Outcome::NoAnswer { at, end, received }) => Self {
                pieces: match received.is_empty() {
                    true => Vec::new(),
                    false => vec![(Duration::ZERO, received.bytes(0))],
                },
                ends: (since(*at), ends(*end, true)),
                is_stream: false,
            },
            Some(Outcome::Answered(answer)) => {
                let mut answer = answer.clone();
                if let Some((upstream, own)) = own {
                    rewrite_location(&mut answer, upstream, own);
                }
                match &answer.content {
                    Content::Whole { .. } => whole(&answer, asked),
                    Content::Stream { .. } => stream(&answer, asked, joined_after),
                }
            }
        }
    }
}

/// A redirect to the recorded host leads to the replay.
fn rewrite_location(answer: &mut Answer, upstream: &str, own: &str) {
    let fields = answer.fields.iter_mut();
    for (_, value) in fields.filter(|(name, _)| name.eq_ignore_ascii_case("location")) {
        if let Some(rest) = value.strip_prefix(upstream)
            && (rest.is_empty() || rest.starts_with(['/', '?']))
        {
            let longer = own.len() as i128 - upstream.len() as i128;
            *value = format!("{own}{rest}");
            if let Content::Whole { pieces, .. } = &mut answer.content
                && let Some(first) = pieces.first_mut()
            {
                first.bytes =
                    u64::try_from(i128::from(first.bytes) + longer).unwrap_or(first.bytes);
            }
        }
    }
}

fn whole(answer: &Answer, asked: Duration) -> Play {
    let Content::Whole {
        pieces: recorded, ..
    } = &answer.content
    else {
        unreachable!("the caller has looked")
    };
    let mut bytes = answer.bytes();
    let mut pieces = Vec::new();
    for piece in recorded {
        let length = usize::try_from(piece.bytes)
            .unwrap_or(usize::MAX)
            .min(bytes.len());
        if length > 0 {
            pieces.push((piece.after_seconds, bytes.split_to(length)));
        }
    }
    if !bytes.is_empty() {
        let last = pieces.last().map_or(Duration::ZERO, |(after, _)| *after);
        pieces.push((last, bytes));
    }
    let closes = answer.framing == Framing::Close || closes(answer);
    let (at, end) = answer.ended.unwrap_or((asked, End::RecordingStopped));
    Play {
        pieces,
        ends: (at.saturating_sub(asked), ends(end, closes)),
        is_stream: false,
    }
}

fn stream(answer: &Answer, asked: Duration, joined_after: Duration) -> Play {
    let Content::Stream {
        begun,
        kind,
        pushed,
    } = &answer.content
    else {
        unreachable!("the caller has looked")
    };
    let mut pieces = vec![(begun.saturating_sub(asked), answer.head_bytes())];
    let mut is_first = true;
    for (at, pushed) in pushed {
        // Of an event stream the first piece is what a host greets with.
        let greets = std::mem::take(&mut is_first) && *kind == StreamKind::Events;
        if at.saturating_sub(asked) < joined_after && !greets {
            continue;
        }
        let bytes = match pushed {
            Pushed::Bytes(body) => body.bytes(MADE_UP_LIMIT_BYTES),
            Pushed::Frame(frame) if frame.from == Sender::Host => Bytes::from(host_frame(
                frame.kind,
                &frame.body.bytes(MADE_UP_LIMIT_BYTES),
            )),
            Pushed::Frame(_) => continue,
        };
        let bytes = match answer.framing {
            Framing::Chunked => chunk(&bytes),
            _ => bytes,
        };
        pieces.push((at.saturating_sub(asked).saturating_sub(joined_after), bytes));
    }
    let (at, end) = match answer.ended {
        // For as long as the recording lasted it went on.
        None | Some((_, End::WatcherLeft | End::RecordingStopped)) => (asked, None),
        Some((at, end)) => (at, Some(end)),
    };
    if end == Some(End::Complete) && answer.framing == Framing::Chunked {
        let after = at.saturating_sub(asked).saturating_sub(joined_after);
        pieces.push((after, Bytes::from_static(b"0\r\n\r\n")));
    }
    let ends = end.map_or(Ends::Silent, |end| ends(end, true));
    Play {
        pieces,
        ends: (at.saturating_sub(asked).saturating_sub(joined_after), ends),
        is_stream: true,
    }
}

fn chunk(bytes: &Bytes) -> Bytes {
    let mut framed = format!("{:x}\r\n", bytes.len()).into_bytes();
    framed.extend_from_slice(bytes);
    framed.extend_from_slice(b"\r\n");
    Bytes::from(framed)
}

fn closes(answer: &Answer) -> bool {
    let head = crate::http::head::AnswerHead {
        status: answer.status,
        reason: String::new(),
        version: answer.version,
        fields: answer.fields.clone(),
    };
    head.closes()
}

fn ends(end: End, closes: bool) -> Ends {
    match end {
        End::Complete if closes => Ends::Closed,
        End::Complete => Ends::Whole,
        End::Closed | End::NotHttp | End::NotPassedOn => Ends::Closed,
        // An open listener can refuse only like this.
        End::Reset | End::Refused => Ends::Reset,
        End::Unreachable | End::TimedOut | End::WatcherLeft | End::RecordingStopped => Ends::Silent,
    }
}
