//! Everything that can be seen on the wire.

use std::fmt;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Instant;

use bytes::Bytes;
use http::{Method, StatusCode};

use crate::dialect::Qos;
use crate::drift::Drift;
use crate::fault::ScopedFault;
use crate::sim::{Truth, VirtualTime};

/// Numbers the connections of a host, from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ConnectionId(pub u64);

/// Numbers the exchanges of a host, from 1, in the order in which their requests were read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ExchangeId(pub u64);

/// Is told of everything on the wire.
///
/// Called from whichever task it happens in, and while locks are held: note the event and return.
/// An answer is told before its first byte can be seen by the client.
pub trait Observer: fmt::Debug + Send + Sync {
    /// Takes note of an event.
    fn observe(&self, at: Instant, event: WireEvent);
}

/// Is one thing that happened on the wire.
///
/// Bytes that are no HTTP request are answered 400 by the HTTP library and show only as a
/// connection opened and closed.
#[derive(Debug, Clone, PartialEq)]
pub enum WireEvent {
    /// A client has connected.
    ConnectionOpened {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Which connection.
        connection: ConnectionId,
        /// Who it is.
        peer: SocketAddr,
    },
    /// A connection has ended, whoever ended it.
    ConnectionClosed {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Which connection.
        connection: ConnectionId,
    },
    /// A fault has reset a connection; `ConnectionClosed` follows.
    ConnectionReset {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Which connection.
        connection: ConnectionId,
        /// How many bytes of the answer under way had been sent.
        after_bytes: u64,
    },
    /// A request has been read, its body included.
    RequestReceived {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// On which connection.
        connection: ConnectionId,
        /// Which exchange it begins.
        exchange: ExchangeId,
        /// The method.
        method: Method,
        /// The request target as it came: path and query, still percent-encoded.
        target: String,
        /// The fields in their order, repeated ones together, names in lower case; bytes that are
        /// not UTF-8 are replaced.
        headers: Vec<(String, String)>,
        /// The body; empty when it was too large or did not come in.
        body: Bytes,
    },
    /// An answer is about to be sent. For a push route this is the head; its events follow.
    AnswerSent {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Which exchange it ends.
        exchange: ExchangeId,
        /// The status.
        status: StatusCode,
        /// The fields, without those the connection adds (`Date`, `Content-Length`,
        /// `Content-Encoding`, …).
        headers: Vec<(String, String)>,
        /// The body, whole and not compressed, whatever a fault then lets through.
        body: Bytes,
        /// What was true when it was made.
        truth: Arc<Truth>,
    },
    /// A piece of a push stream is about to be sent: text of an event stream, or the payload of one
    /// message of a WebSocket.
    PushSent {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Of which exchange.
        exchange: ExchangeId,
        /// The bytes.
        bytes: Bytes,
        /// What was true when they were made.
        truth: Arc<Truth>,
    },
    /// The client of a WebSocket has sent a message or a control frame.
    ///
    /// What is against RFC 6455 shows only in the close frame it is answered with.
    FrameReceived {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Which exchange opened the WebSocket.
        exchange: ExchangeId,
        /// What it is.
        kind: FrameKind,
        /// The payload, unmasked; of a message, all its fragments.
        bytes: Bytes,
    },
    /// A ping or a close frame of the host's is about to be sent. Messages are told as `PushSent`;
    /// every ping received is answered with a pong that is not told.
    FrameSent {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Which exchange opened the WebSocket.
        exchange: ExchangeId,
        /// What it is.
        kind: FrameKind,
        /// The payload.
        bytes: Bytes,
    },
    /// A message is about to be published, a birth and a good-bye among them. The will is published
    /// by the broker, and shows in nobody's events.
    Published {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// The topic.
        topic: String,
        /// The message.
        body: Bytes,
        /// Whether the broker keeps it.
        retain: bool,
        /// How hard it is delivered.
        qos: Qos,
        /// What was true when it was made.
        truth: Arc<Truth>,
    },
    /// Nothing can be published: the dialect has a fault that its check could not find. Told once.
    NotPublished {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// What is wrong.
        reason: String,
    },
    /// A broker has taken the host in.
    BrokerConnected {
        /// The virtual time.
        virtual_time: VirtualTime,
    },
    /// There is no broker, or no longer; told once until there is one again.
    BrokerLost {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Why.
        reason: String,
    },
    /// A fault is raised; it comes into force at once or after the time its scope says.
    FaultRaised {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Which fault.
        fault: Arc<ScopedFault>,
    },
    /// A fault happens to something.
    FaultHappened {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// On which connection.
        connection: ConnectionId,
        /// To which exchange; `None` if it happens to the connection itself.
        exchange: Option<ExchangeId>,
        /// Which fault.
        fault: Arc<ScopedFault>,
    },
    /// A fault is taken back.
    FaultCleared {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Which fault.
        fault: Arc<ScopedFault>,
    },
    /// A drift comes into force.
    DriftRaised {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Which drift.
        drift: Arc<Drift>,
    },
    /// A drift is taken back.
    DriftCleared {
        /// The virtual time.
        virtual_time: VirtualTime,
        /// Which drift.
        drift: Arc<Drift>,
    },
}

/// Says what a frame, or a whole message, of a WebSocket is.
///
/// # Source
/// RFC 6455 section 5.5 and section 5.6.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FrameKind {
    /// Text.
    Text,
    /// Binary data.
    Binary,
    /// A ping.
    Ping,
    /// A pong.
    Pong,
    /// A close frame: a code of two bytes and a reason, or nothing.
    Close,
}

impl WireEvent {
    /// Gives the virtual time of the event.
    pub fn virtual_time(&self) -> VirtualTime {
        match self {
            Self::ConnectionOpened { virtual_time, .. }
            | Self::ConnectionClosed { virtual_time, .. }
            | Self::ConnectionReset { virtual_time, .. }
            | Self::RequestReceived { virtual_time, .. }
            | Self::AnswerSent { virtual_time, .. }
            | Self::PushSent { virtual_time, .. }
            | Self::FrameReceived { virtual_time, .. }
            | Self::FrameSent { virtual_time, .. }
            | Self::Published { virtual_time, .. }
            | Self::NotPublished { virtual_time, .. }
            | Self::BrokerConnected { virtual_time }
            | Self::BrokerLost { virtual_time, .. }
            | Self::FaultRaised { virtual_time, .. }
            | Self::FaultHappened { virtual_time, .. }
            | Self::FaultCleared { virtual_time, .. }
            | Self::DriftRaised { virtual_time, .. }
            | Self::DriftCleared { virtual_time, .. } => *virtual_time,
        }
    }
}
