//! The faults.

mod bounds;
mod said;

use std::fmt;

use http::StatusCode;
use schemars::JsonSchema;
use serde::de;
use serde::de::value::MapAccessDeserializer;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::json;

use super::{CertificateKind, Position, RetryAfter, Span};

/// Is something that is wrong with the host's side of the network.
///
/// In files and on the wire it is its name, `"refuse"`, or a table of its name and what it needs,
/// `{ reset = { at = { body-byte = 12 } } }`.
// `remote` makes the derived reading a function beside the one below, which takes a bare name too.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(remote = "Self")]
#[serde(
    rename_all = "kebab-case",
    rename_all_fields = "kebab-case",
    deny_unknown_fields
)]
pub enum Fault {
    /// Nothing listens: the client's connect is refused, and open connections are closed.
    ///
    /// # Source
    /// RFC 9293 section 3.10.7.1: a segment to a closed port is answered with RST.
    Refuse,
    /// No packet comes or goes, as without a network: a connect is not answered, open connections
    /// stand still. Afterwards they go on where they were.
    Unreachable,
    /// Connections are accepted, and not a byte comes.
    Silent,
    /// Every open connection is dead and its client is not told: nothing is sent and nothing is
    /// acknowledged. Only a new connection helps. Once the fault is over, whatever the client still
    /// sends on a dead one is answered with RST.
    ///
    /// # Source
    /// RFC 9293 section 3.5.1, half-open connections.
    HalfOpen,
    /// Bytes are sent as soon as a client has connected, before it has asked for anything.
    UnaskedData {
        /// The bytes; without any an answer 408 (RFC 9110 section 15.5.9), which hosts send to idle
        /// clients (common practice).
        #[serde(default)]
        text: Option<String>,
    },
    /// The host shows another certificate. Needs a host that speaks TLS.
    TlsCertificate {
        /// What is wrong with it.
        is: CertificateKind,
    },
    /// The connection is closed after the answer without TLS' farewell, so that nobody can tell
    /// whether the answer was cut. Needs a host that speaks TLS.
    ///
    /// # Source
    /// RFC 8446 section 6.1, `close_notify`.
    TlsWithoutNotify,
    /// A connection is closed when it has been idle for so long, whatever the dialect says.
    ///
    /// # Source
    /// RFC 9112 section 9.5: either side may close an idle connection at any time.
    CloseIdle {
        /// The time; none closes it right after each answer.
        #[serde(default)]
        after: Span,
    },
    /// The second and every later request of a connection is answered with its end, as if the host
    /// had closed it while the client slept.
    ///
    /// # Source
    /// RFC 9112 section 9.5, the race of a closed connection and a request on its way.
    CloseOnReuse {
        /// Whether the end is a reset, not a close.
        #[serde(default)]
        reset: bool,
    },

    /// Every request is answered with this status and a problem body of the dialect.
    Status {
        /// The status, a final one (200 to 599). 204, 205 and 304 have no body.
        #[serde(with = "bounds::status_code")]
        #[schemars(with = "u16", range(min = 200, max = 599))]
        code: StatusCode,
        /// What `Retry-After` says.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        retry_after: Option<RetryAfter>,
    },
    /// Every request is answered with a page that asks a person to log in, in HTML and with 200.
    LoginPage,
    /// Every request is answered with a redirection to somewhere else, with the same path and query.
    Redirect {
        /// Where to: an origin such as `http://198.51.100.7:8080`.
        #[schemars(regex(pattern = "^https?://"))]
        #[serde(deserialize_with = "bounds::origin")]
        to: String,
        /// The status, 301, 302, 303, 307 or 308.
        #[serde(default = "bounds::found", with = "bounds::redirection_code")]
        #[schemars(with = "u16", extend("enum" = [301, 302, 303, 307, 308]))]
        code: StatusCode,
    },
    /// Every request is answered with a redirection to the page of a network that wants a log-in
    /// first. The name of its host has no address (RFC 6761 section 6.4).
    CaptivePortal,
    /// Every request is answered with a redirection to where it came.
    RedirectLoop {
        /// The status, 301, 302, 303, 307 or 308.
        #[serde(default = "bounds::found", with = "bounds::redirection_code")]
        #[schemars(with = "u16", extend("enum" = [301, 302, 303, 307, 308]))]
        code: StatusCode,
    },
    /// The host is alive and shows the same old printer: what was true at the first answer from then
    /// on.
    Frozen,
    /// Every second answer is older than the one before, as from two hosts behind one address.
    OutOfOrder,
    /// The key is no longer good.
    ///
    /// Push streams that were begun with it are ended: an event stream in order, a WebSocket with the
    /// code 1008, an answer that waits with the dialect's refusal.
    ///
    /// # Source
    /// RFC 6455 section 7.4.1.
    KeyRevoked,
    /// `Date` is wrong by so much.
    ClockSkew {
        /// How far the clock is ahead, in seconds; negative if it is behind.
        #[schemars(range(min = -1.0e9, max = 1.0e9))]
        #[serde(deserialize_with = "bounds::skew")]
        ahead_s: f64,
    },

    /// The connection is reset (TCP RST) in the middle of each answer.
    ///
    /// An answer that is over by then passes whole. Bytes that the client's window has no room for
    /// are lost as well, as they would be with a real reset.
    Reset {
        /// Where.
        #[serde(default)]
        at: Position,
    },
    /// The connection is closed (TCP FIN) in the middle of each answer, so that its length is not
    /// the one that was told.
    Close {
        /// Where.
        #[serde(default)]
        at: Position,
    },
    /// Each answer stands still, and the connection stays open.
    Stall {
        /// Where.
        #[serde(default)]
        at: Position,
    },
    /// Each answer comes in chunks, and the connection is closed instead of the last one.
    ///
    /// # Source
    /// RFC 9112 section 8: such a message is incomplete.
    NoLastChunk,
    /// Bytes that are no HTTP come instead of each answer, and then the end of the connection.
    Garbage {
        /// The bytes; without any a line of a terminal server.
        #[serde(default)]
        text: Option<String>,
    },
    /// Each answer comes twice.
    Twice,
    /// Bytes that nobody asked for follow each answer.
    TrailingData {
        /// The bytes; without any a line of letters.
        #[serde(default)]
        text: Option<String>,
    },
    /// `Content-Length` is wrong by so many bytes, and the connection stays open. An answer in chunks
    /// has none.
    WrongLength {
        /// How many bytes too many are told; negative for too few.
        by: i32,
    },
    /// Each answer has a further field of this length.
    HugeHeader {
        /// How many bytes its value has.
        #[schemars(range(min = 1, max = 16_777_216))]
        #[serde(deserialize_with = "bounds::huge")]
        bytes: u32,
    },
    /// Interim answers come before each answer.
    ///
    /// # Source
    /// RFC 9110 section 15.2: a client MUST be able to parse them.
    Interim {
        /// The status: 100, or 102 to 199.
        #[serde(
            default = "bounds::processing",
            deserialize_with = "bounds::interim_code"
        )]
        #[schemars(range(min = 100, max = 199))]
        code: u16,
        /// How many.
        #[serde(default = "bounds::one", deserialize_with = "bounds::few")]
        #[schemars(range(min = 1, max = 1000))]
        times: u32,
    },

    /// Each answer comes late.
    Latency {
        /// By how much at least.
        of: Span,
        /// How much more it may be, evenly drawn.
        #[serde(default, skip_serializing_if = "Span::is_zero")]
        jitter: Span,
    },
    /// Each answer comes byte by byte, each in a packet of its own.
    Drip {
        /// The time between two bytes.
        #[serde(default)]
        gap: Span,
    },
    /// Each answer comes no faster than so.
    Bandwidth {
        /// Bytes a second.
        #[schemars(range(min = 1))]
        #[serde(deserialize_with = "bounds::positive")]
        bytes_per_second: u64,
    },

    /// Nothing comes on push streams any more, and they stay open.
    ///
    /// Comments, pings and pongs are kept back too, and of a new stream all that follows its head; only
    /// a client's own close of a WebSocket is still answered. Afterwards a stream goes on with the
    /// present state. What it missed does not come any more, except for who comes back with
    /// `Last-Event-ID`. The answer to a long poll is held, beyond its time, until the fault is over or
    /// the client leaves. To a broker nothing is published meanwhile.
    SilentStream,
    /// Push streams are ended by the host, and new ones as soon as they have begun.
    ///
    /// An event stream ends with its last chunk, a new one behind its reconnection time; a WebSocket is
    /// closed with the handshake of RFC 6455 section 7.1.2. A long poll does not wait: it is answered
    /// at once, as when its time is over. It goes before silence. The connection to a broker stays.
    StreamClosed {
        /// The code in the close frame of a WebSocket; without one it has none.
        #[serde(default, deserialize_with = "bounds::close_code")]
        #[schemars(with = "Option<u16>", range(min = 1000, max = 4999))]
        code: Option<u16>,
    },
    /// Messages on push streams are lost, and the host does not know it: ids count on, and a merge
    /// patch is made from the state that was lost.
    ///
    /// Those published to a broker are messages as well. A long poll has answers and no messages.
    MissedMessages,
    /// Each message on a push stream comes twice, byte for byte, with the same id if it has one.
    ///
    /// Those published to a broker are messages as well; a long poll has none.
    RepeatedMessages,
    /// Messages of an event stream have the id of the one sent before, which may have been that of the
    /// one before it: while it lasts, all have the same. It does not happen to the first message of a
    /// stream, nor to messages that have no ids.
    RepeatedIds,
    /// Pings of a WebSocket's client are not answered. All else goes on, the host's own pings too.
    NoPong,
}

/// Says what a fault happens to one by one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// The network as a whole.
    Network,
    /// The connections that are open at once.
    OpenConnections,
    /// Each new connection.
    Connection,
    /// Each request with its answer.
    Exchange,
    /// Push streams, for as long as the fault lasts.
    Stream,
    /// Each message of a push stream.
    Message,
}

impl Fault {
    /// Says what it happens to one by one.
    pub fn unit(&self) -> Unit {
        match self {
            Self::Refuse | Self::Unreachable => Unit::Network,
            Self::HalfOpen | Self::CloseIdle { .. } => Unit::OpenConnections,
            Self::Silent | Self::UnaskedData { .. } | Self::TlsCertificate { .. } => {
                Unit::Connection
            }
            Self::SilentStream | Self::StreamClosed { .. } | Self::NoPong => Unit::Stream,
            Self::MissedMessages | Self::RepeatedMessages | Self::RepeatedIds => Unit::Message,
            _ => Unit::Exchange,
        }
    }

    /// Tells whether only a host that speaks TLS can have it.
    pub fn needs_tls(&self) -> bool {
        matches!(self, Self::TlsCertificate { .. } | Self::TlsWithoutNotify)
    }

    /// Gives the name: `reset`.
    pub fn name(&self) -> String {
        match serde_json::to_value(self) {
            Ok(serde_json::Value::String(name)) => name,
            Ok(serde_json::Value::Object(table)) => {
                table.keys().next().cloned().unwrap_or_default()
            }
            // The names are written by the derive, as one of the two.
            _ => String::new(),
        }
    }

    /// Is a reset in the middle of each answer.
    pub fn reset_at(at: Position) -> Self {
        Self::Reset { at }
    }

    /// Is a status without `Retry-After`.
    pub fn status(code: StatusCode) -> Self {
        Self::Status {
            code,
            retry_after: None,
        }
    }
}

impl Serialize for Fault {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Self::serialize(self, serializer)
    }
}

impl<'de> Deserialize<'de> for Fault {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(NameOrTable)
    }
}

struct NameOrTable;

impl<'de> de::Visitor<'de> for NameOrTable {
    type Value = Fault;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("the name of a fault, or a table of its name and what it needs")
    }

    fn visit_str<E: de::Error>(self, name: &str) -> Result<Fault, E> {
        // A fault whose every key has a default is written as its name alone, or with a table. What
        // is wrong with a table also says which names there are.
        Fault::deserialize(json!(name))
            .or_else(|_| Fault::deserialize(json!({ name: {} })))
            .map_err(E::custom)
    }

    fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<Fault, A::Error> {
        let fault = Fault::deserialize(MapAccessDeserializer::new(&mut map))?;
        // The derive looks at the first key only.
        match map.next_key::<String>()? {
            None => Ok(fault),
            Some(other) => Err(de::Error::custom(format_args!(
                "`{other}` is one fault too many in a table of one"
            ))),
        }
    }
}
