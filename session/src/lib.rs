//! What happened on the wire between a watcher and its host.
//!
//! Owns: the session ([`Session`]) and its file ([`Line`], one JSON object a line), reading and writing
//! it, and the way between a recorded answer and the bytes it was ([`wire`]). Does not own: the
//! simulated printer and its dialects, which are the `coldbed-mock` crate's; judging a watcher, which
//! is the `coldbed` crate's.
//!
//! The format has a version, [`VERSION`]; a reader refuses a file of a later one.

mod answer_flow;
pub mod capture;
mod cut;
pub mod diff;
mod format;
pub mod har;
pub mod http;
mod model;
pub mod record;
pub mod redact;
pub mod replay;
mod stream;
pub mod wire;

pub use format::{
    Body, ClosedBy, End, Frame, FrameKind, Framing, Line, Piece, ReadError, Sender, SessionFile,
    Spoken, StreamKind, VERSION, Withheld, schema,
};
pub use model::{Answer, Connection, Content, Exchange, Outcome, Pushed, Request, Session};
pub use stream::Tls;
