//! One line of the file.

use std::time::Duration;

use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::{Deserialize, Serialize};

use super::body::Body;
use super::seconds;

/// The version of the format that this reads and writes. A later one may mean another thing by a
/// member, so that a file of it is refused.
pub const VERSION: u32 = 1;

/// Is one line of a session: an event, as one JSON object.
///
/// All times are real seconds since the session began, to the microsecond. Connections and exchanges
/// are numbered from 1 in the order in which they began.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(
    tag = "line",
    rename_all = "kebab-case",
    rename_all_fields = "kebab-case",
    deny_unknown_fields
)]
pub enum Line {
    /// What the file is: its first line, and there is no other of its kind.
    Session {
        /// The version of the format.
        version: u32,
        /// When it was recorded, as RFC 3339 says it in UTC; absent where it was not recorded.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        recorded_at: Option<String>,
        /// The host's origin, such as `http://printer.home.arpa`; absent where nobody knows.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        upstream: Option<String>,
        /// What wrote it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        made_by: Option<String>,
        /// What was replaced by stand-ins wherever it stood, each as a person would name it.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        replaced: Vec<String>,
    },
    /// The watcher has connected.
    ConnectionOpened {
        /// When.
        #[serde(with = "seconds")]
        #[schemars(with = "f64", range(min = 0))]
        at_seconds: Duration,
        /// Its number.
        connection: u64,
        /// Whether the watcher's side of it is encrypted.
        #[serde(default, skip_serializing_if = "is_false")]
        tls: bool,
    },
    /// The watcher has asked: the request is complete.
    Request {
        /// When its head was complete.
        #[serde(with = "seconds")]
        #[schemars(with = "f64", range(min = 0))]
        at_seconds: Duration,
        /// The connection it came on.
        connection: u64,
        /// Its number.
        exchange: u64,
        /// Its method.
        method: String,
        /// Its target, as it stood in the request line (RFC 9112 section 3.2).
        target: String,
        /// The HTTP version of the message.
        #[serde(default, skip_serializing_if = "Spoken::is_usual")]
        http_version: Spoken,
        /// Its fields in their order, each name as it was written.
        fields: Vec<(String, String)>,
        /// Its content.
        #[serde(default, skip_serializing_if = "Body::is_empty")]
        body: Body,
    },
    /// The host has answered, and the answer is at its end, whole or not.
    Answer {
        /// When it ended.
        #[serde(with = "seconds")]
        #[schemars(with = "f64", range(min = 0))]
        at_seconds: Duration,
        /// To which request.
        exchange: u64,
        /// Its status code.
        status: u16,
        /// Its reason phrase.
        reason: String,
        /// The HTTP version of the message.
        #[serde(default, skip_serializing_if = "Spoken::is_usual")]
        http_version: Spoken,
        /// Its fields in their order, each name as it was written.
        fields: Vec<(String, String)>,
        /// Its content, without its framing; what came of it where it was cut.
        #[serde(default, skip_serializing_if = "Body::is_empty")]
        body: Body,
        /// How its end is known.
        framing: Framing,
        /// How long each chunk said it was, in bytes, without the last of 0.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        chunks: Vec<u64>,
        /// How its bytes arrived, head and framing included.
        pieces: Vec<Piece>,
        /// How it ended.
        end: End,
        /// All its bytes, where they are other than head, framing and content make them.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        raw: Option<Body>,
    },
    /// There is no answer: not even its head was whole.
    NoAnswer {
        /// When that was clear.
        #[serde(with = "seconds")]
        #[schemars(with = "f64", range(min = 0))]
        at_seconds: Duration,
        /// To which request.
        exchange: u64,
        /// How it ended.
        end: End,
        /// The bytes that came.
        #[serde(default, skip_serializing_if = "Body::is_empty")]
        received: Body,
    },
    /// The head of an answer that has no end of its own: what follows is pushed.
    StreamBegun {
        /// When its head was whole.
        #[serde(with = "seconds")]
        #[schemars(with = "f64", range(min = 0))]
        at_seconds: Duration,
        /// To which request.
        exchange: u64,
        /// Its status code.
        status: u16,
        /// Its reason phrase.
        reason: String,
        /// The HTTP version of the message.
        #[serde(default, skip_serializing_if = "Spoken::is_usual")]
        http_version: Spoken,
        /// Its fields in their order, each name as it was written.
        fields: Vec<(String, String)>,
        /// How its content is framed.
        framing: Framing,
        /// What is pushed.
        stream: StreamKind,
    },
    /// Something was pushed on a stream of bytes, such as a server-sent event.
    Pushed {
        /// When.
        #[serde(with = "seconds")]
        #[schemars(with = "f64", range(min = 0))]
        at_seconds: Duration,
        /// On the answer to which request.
        exchange: u64,
        /// The bytes, without framing: of an event stream one event with the blank line after it.
        body: Body,
    },
    /// A WebSocket message (RFC 6455).
    Frame {
        /// When it was complete.
        #[serde(with = "seconds")]
        #[schemars(with = "f64", range(min = 0))]
        at_seconds: Duration,
        /// On the answer to which request.
        exchange: u64,
        /// The message.
        frame: Frame,
    },
    /// A stream is at its end.
    StreamEnded {
        /// When.
        #[serde(with = "seconds")]
        #[schemars(with = "f64", range(min = 0))]
        at_seconds: Duration,
        /// On the answer to which request.
        exchange: u64,
        /// How it ended.
        end: End,
    },
    /// A connection of the watcher is at its end.
    ConnectionClosed {
        /// When.
        #[serde(with = "seconds")]
        #[schemars(with = "f64", range(min = 0))]
        at_seconds: Duration,
        /// Its number.
        connection: u64,
        /// Who ended it.
        by: ClosedBy,
        /// Whether by a reset.
        #[serde(default, skip_serializing_if = "is_false")]
        reset: bool,
    },
}

/// Names the HTTP version of a message.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
pub enum Spoken {
    /// HTTP/1.0.
    #[serde(rename = "1.0")]
    Http10,
    /// HTTP/1.1.
    #[default]
    #[serde(rename = "1.1")]
    Http11,
}

impl Spoken {
    #[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for it so")]
    fn is_usual(&self) -> bool {
        *self == Self::Http11
    }

    /// Gives the name as it stands in a message.
    pub fn name(self) -> &'static str {
        match self {
            Self::Http10 => "HTTP/1.0",
            Self::Http11 => "HTTP/1.1",
        }
    }
}

/// Says how the end of a message's content is known (RFC 9112 section 6.3).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Framing {
    /// There is no content, by method or status.
    None,
    /// `Content-Length` says how many bytes.
    Length,
    /// It comes in chunks.
    Chunked,
    /// It ends with the connection.
    Close,
}

/// Says how an answer or a stream ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum End {
    /// As its framing says.
    Complete,
    /// The host closed the connection before.
    Closed,
    /// The host reset the connection before.
    Reset,
    /// The watcher left before.
    WatcherLeft,
    /// The host could not be connected to: it refused.
    Refused,
    /// The host could not be connected to: nothing answered.
    Unreachable,
    /// The host said nothing for longer than the recorder waits.
    TimedOut,
    /// The recorder did not pass the request on, and answered itself.
    NotPassedOn,
    /// What the host sent is no HTTP; all its bytes are kept.
    NotHttp,
    /// The recording stopped before.
    RecordingStopped,
}

/// Says what is pushed on a stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StreamKind {
    /// Server-sent events (WHATWG HTML, section 9.2).
    Events,
    /// WebSocket messages (RFC 6455), both ways.
    Frames,
    /// Bytes of another kind.
    Bytes,
}

/// Says that so many bytes of an answer arrived together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Piece {
    /// How long after the request.
    #[serde(with = "seconds")]
    #[schemars(with = "f64", range(min = 0))]
    pub after_seconds: Duration,
    /// How many bytes.
    pub bytes: u64,
}

/// Says who ended a connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ClosedBy {
    /// The watcher.
    Watcher,
    /// The host.
    Host,
    /// The recorder, which stopped or kept a limit.
    Recorder,
}

/// Says who sent a WebSocket message.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Sender {
    /// The watcher.
    Watcher,
    /// The host.
    Host,
}

/// Names the kind of a WebSocket message (RFC 6455 section 11.8).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FrameKind {
    /// Text.
    Text,
    /// Bytes.
    Binary,
    /// The end, with its code and reason as they were sent.
    Close,
    /// A question whether the other is there.
    Ping,
    /// Its answer.
    Pong,
}

/// Is a WebSocket message, put together from its frames.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Frame {
    /// Who sent it.
    pub from: Sender,
    /// Its kind.
    pub kind: FrameKind,
    /// Its content.
    #[serde(default, skip_serializing_if = "Body::is_empty")]
    pub body: Body,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for it so")]
fn is_false(value: &bool) -> bool {
    !value
}

/// Gives the JSON Schema (draft 2020-12) of one line.
pub fn schema() -> serde_json::Value {
    let settings = SchemaSettings::draft2020_12();
    settings
        .into_generator()
        .into_root_schema_for::<Line>()
        .to_value()
}
