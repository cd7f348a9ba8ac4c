//! The shell: sockets, a clock, and the one lock round the printer.
//!
//! Owns: the virtual clock, listening, connections, requests and answers as bytes, push streams,
//! publishing through a broker, announcing the host, the control API, and telling an [`Observer`] of everything on the wire.
//! Does not own: what an answer says (the dialect does), what the printer does (the simulation),
//! what is to go wrong (the boards).
//!
//! Every request goes to one handler; no path and no field name is known here.
//!
//! # Source
//! RFC 9110 and RFC 9112 as cited at each rule.

mod accept;
mod announce;
mod body;
mod capacity;
mod clock;
mod connection;
mod control;
mod date;
mod exchange;
mod fault_answer;
mod host;
mod keeper;
mod limits;
mod lingering;
mod network;
mod observer;
mod old_truth;
mod options;
mod orders;
mod printer;
mod publish;
mod push;
mod shared;
mod socket;
mod target;
mod timeline;
mod tls;
mod under_way;
mod unread;
mod wire_form;

#[cfg(test)]
mod tests;

pub use announce::AnnounceError;
pub use clock::{Clock, ClockError};
pub use control::{
    ClockReading, ClockSetting, Control, ControlError, ControlOptions, Issued, LogFile,
    OpenConnection, ReplayError, ShownDrift, ShownFault,
};
pub use host::Host;
pub use limits::{MAX_BODY_BYTES, READ_TIMEOUT, STOP_TIMEOUT};
pub use observer::{ConnectionId, ExchangeId, FrameKind, Observer, WireEvent};
pub use options::{HostOptions, StartError};
pub use publish::{Broker, BrokerError};
pub use tls::{Tls, TlsError};
