//! A session as a whole, put together from its lines.

use std::time::Duration;

use crate::format::{Body, ClosedBy, End, Frame, Framing, Piece, Spoken, StreamKind};

/// Is all that happened between a watcher and its host, as far as it was recorded.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Session {
    /// When it was recorded (RFC 3339, UTC).
    pub recorded_at: Option<String>,
    /// The host's origin.
    pub upstream: Option<String>,
    /// What wrote it.
    pub made_by: Option<String>,
    /// What was replaced by stand-ins.
    pub replaced: Vec<String>,
    /// The connections of the watcher, by number.
    pub connections: Vec<Connection>,
    /// The exchanges, by number, and so in the order in which they began.
    pub exchanges: Vec<Exchange>,
}

/// Is one connection of the watcher.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Connection {
    /// Its number.
    pub number: u64,
    /// When it was opened.
    pub opened: Duration,
    /// Whether the watcher's side of it was encrypted.
    pub tls: bool,
    /// When it ended, who ended it, and whether by a reset; `None` if the recording ended before.
    pub closed: Option<(Duration, ClosedBy, bool)>,
}

/// Is one request with what became of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Exchange {
    /// Its number.
    pub number: u64,
    /// The connection it was on.
    pub connection: u64,
    /// The request.
    pub request: Request,
    /// What became of it; `None` if the recording ended before.
    pub outcome: Option<Outcome>,
}

/// Is a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// When its head was complete.
    pub at: Duration,
    /// Its method.
    pub method: String,
    /// Its target, as it stood in the request line.
    pub target: String,
    /// Its HTTP version.
    pub version: Spoken,
    /// Its fields in their order.
    pub fields: Vec<(String, String)>,
    /// Its content.
    pub body: Body,
}

impl Request {
    /// Gives the target's path, without its query.
    pub fn path(&self) -> &str {
        self.target.split(['?', '#']).next().unwrap_or_default()
    }

    /// Gives the first value of a field, its name in any case.
    pub fn field(&self, name: &str) -> Option<&str> {
        field(&self.fields, name)
    }
}

/// Says what became of a request.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// An answer whose head was whole.
    Answered(Answer),
    /// None.
    NoAnswer {
        /// When that was clear.
        at: Duration,
        /// How it ended.
        end: End,
        /// The bytes that came.
        received: Body,
    },
}

impl Outcome {
    /// Says how it ended; `None` for a stream that the recording ended in.
    pub fn end(&self) -> Option<End> {
        match self {
            Self::Answered(answer) => answer.ended.map(|(_, end)| end),
            Self::NoAnswer { end, .. } => Some(*end),
        }
    }
}

/// Is an answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// Its status code.
    pub status: u16,
    /// Its reason phrase.
    pub reason: String,
    /// Its HTTP version.
    pub version: Spoken,
    /// Its fields in their order.
    pub fields: Vec<(String, String)>,
    /// How the end of its content is known.
    pub framing: Framing,
    /// Its content.
    pub content: Content,
    /// When and how it ended; `None` if the recording ended before.
    pub ended: Option<(Duration, End)>,
}

impl Answer {
    /// Gives the first value of a field, its name in any case.
    pub fn field(&self, name: &str) -> Option<&str> {
        field(&self.fields, name)
    }

    /// Gives the content of an answer that is no stream.
    pub fn body(&self) -> Option<&Body> {
        match &self.content {
            Content::Whole { body, .. } => Some(body),
            Content::Stream { .. } => None,
        }
    }
}

/// Is the content of an answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Content {
    /// It has an end of its own.
    Whole {
        /// What came of it, without framing.
        body: Body,
        /// How long each chunk said it was, in bytes.
        chunks: Vec<u64>,
        /// How the answer's bytes arrived, head and framing included.
        pieces: Vec<Piece>,
        /// All its bytes, where they are other than head, framing and content make them.
        raw: Option<Body>,
    },
    /// It is pushed.
    Stream {
        /// When the head was whole.
        begun: Duration,
        /// What is pushed.
        kind: StreamKind,
        /// What was pushed, and when.
        pushed: Vec<(Duration, Pushed)>,
    },
}

/// Is something on a stream.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Pushed {
    /// Bytes, without framing.
    Bytes(Body),
    /// A WebSocket message, by the host or by the watcher.
    Frame(Frame),
}

impl Session {
    /// Gives an exchange by its number.
    pub fn exchange(&self, number: u64) -> Option<&Exchange> {
        let at = self
            .exchanges
            .binary_search_by_key(&number, |exchange| exchange.number);
        at.ok().map(|at| &self.exchanges[at])
    }

    /// Gives when the last thing happened.
    pub fn length(&self) -> Duration {
        let closed = self
            .connections
            .iter()
            .map(|connection| connection.closed.map_or(connection.opened, |(at, _, _)| at));
        let exchanged = self.exchanges.iter().map(Exchange::last_moment);
        closed.chain(exchanged).max().unwrap_or_default()
    }
}

impl Exchange {
    /// Gives when the last thing happened in it.
    pub fn last_moment(&self) -> Duration {
        match &self.outcome {
            None => self.request.at,
            Some(Outcome::NoAnswer { at, .. }) => *at,
            Some(Outcome::Answered(answer)) => match (&answer.ended, &answer.content) {
                (Some((at, _)), _) => *at,
                (None, Content::Stream { begun, pushed, .. }) => {
                    pushed.last().map_or(*begun, |(at, _)| *at)
                }
                (None, Content::Whole { .. }) => self.request.at,
            },
        }
    }

    /// Gives the answer, if there is one.
    pub fn answer(&self) -> Option<&Answer> {
        match &self.outcome {
            Some(Outcome::Answered(answer)) => Some(answer),
            _ => None,
        }
    }
}

fn field<'a>(fields: &'a [(String, String)], name: &str) -> Option<&'a str> {
    fields
        .iter()
        .find(|(known, _)| known.eq_ignore_ascii_case(name))
        .map(|(_, value)| value.as_str())
}
