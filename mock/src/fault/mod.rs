//! What goes wrong with connections and exchanges.
//!
//! A [`Fault`] is a value. With what it happens to ([`Scope`]) and raised on a [`FaultBoard`], it is
//! in force until its guard is dropped. Several are in force at once: where only one can be carried
//! out, as with the status of one answer, the first one raised is; where they add up, as with
//! delays, all are ([`Effects`]).
//!
//! Owns: the faults, the board, what they do to one exchange, the bytes of an answer under them
//! ([`AnswerBytes`]) and the stream that carries them out ([`FaultyStream`]).
//! Does not own: the listener, TLS and what an answer says; the server asks the board about those.

mod answer_bytes;
mod board;
mod certificate;
mod control;
mod deaf;
mod effects;
mod framing;
mod kind;
mod names;
mod position;
mod retry_after;
mod scope;
mod script;
mod severed;
mod shared_tcp;
mod since;
mod span;
mod stream;

pub use answer_bytes::{Act, AnswerBytes};
pub use board::{FaultBoard, FaultChange, FaultGuard, Network, RaisedFault};
pub use certificate::CertificateKind;
pub use control::StreamControl;
pub(crate) use deaf::{deafen, hear};
pub use effects::{ConnectionEffects, Effects, MessageEffects, StreamEffects};
pub use kind::{Fault, Unit};
pub use position::Position;
pub use retry_after::RetryAfter;
pub use scope::{
    Occasion, PatternError, Probability, RoutePattern, Scope, ScopeError, ScopedFault,
};
pub use script::{Cut, Ending, Pace, Script};
pub use shared_tcp::SharedTcp;
pub use span::Span;
pub use stream::{FaultyStream, OverTcp};

#[cfg(test)]
mod tests;
