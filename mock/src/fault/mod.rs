//! What goes wrong with connections and exchanges.
//!
//! A [`Fault`] is a value. Raised on a [`FaultBoard`], it is in force until its guard is dropped.
//! Each fault acts at one layer: on the listener, on the bytes of an answer, or on the HTTP
//! exchange. At each layer the first one raised decides; faults of different layers combine.
//!
//! Owns: the faults, the board, the decision what to do with the next bytes ([`Step`]) and the
//! stream that carries it out ([`FaultyStream`]).
//! Does not own: the listener and the HTTP answer; the server asks the board about those.

mod board;
mod since;
mod step;
mod stream;

use std::time::Duration;

use http::StatusCode;

pub use board::{FaultBoard, FaultChange, FaultGuard};
pub use step::Step;
pub use stream::{FaultyStream, OverTcp, StreamControl};

/// Is something that is wrong with the host's side of the network.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fault {
    /// Nothing listens: the client's connect is refused, and open connections are closed.
    Refuse,
    /// The connection is reset (TCP RST) in the middle of each answer.
    ///
    /// An answer of that many bytes or fewer passes whole. Bytes that the client's window has no
    /// room for are lost as well, as they would be with a real reset.
    Reset {
        /// How many bytes of the answer, its head included, pass before: 0 is none.
        after_bytes: u64,
    },
    /// Every request is answered with this status and a problem body of the dialect.
    Status {
        /// The status, a final one (200 to 599).
        code: StatusCode,
        /// What `Retry-After` says.
        retry_after: Option<RetryAfter>,
    },
}

/// Says how long a client is asked to wait.
///
/// # Source
/// RFC 9110 section 10.2.3.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RetryAfter {
    /// As a number of seconds.
    Seconds(u64),
    /// As a date, so long after the answer.
    Date(Duration),
}

/// Says where a fault acts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Layer {
    Listener,
    Bytes,
    Exchange,
}

impl std::fmt::Display for Fault {
    /// Says what is wrong in a few words.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Refuse => f.write_str("connections are refused"),
            Self::Reset { after_bytes } => {
                write!(
                    f,
                    "connections are reset after {after_bytes} bytes of the answer"
                )
            }
            Self::Status { code, .. } => write!(f, "every answer is {}", code.as_u16()),
        }
    }
}

impl Fault {
    fn layer(&self) -> Layer {
        match self {
            Self::Refuse => Layer::Listener,
            Self::Reset { .. } => Layer::Bytes,
            Self::Status { .. } => Layer::Exchange,
        }
    }
}
