//! The file of a session: JSON Lines, one event a line, append only.

mod body;
mod line;
mod read;
mod seconds;
mod write;

#[cfg(test)]
mod tests;

pub use body::{Body, Withheld};
pub(crate) use seconds::LONGEST;

pub use line::{
    ClosedBy, End, Frame, FrameKind, Framing, Line, Piece, Sender, Spoken, StreamKind, VERSION,
    schema,
};
pub use read::{ReadError, SessionFile};
