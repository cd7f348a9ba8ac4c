//! What is told on standard output.

use std::fmt::Display;
use std::io::{self, ErrorKind, Write as _};

/// Writes to standard output. Whoever has stopped reading, as `head` does, is told no more; the work
/// goes on, and its exit code counts.
pub(super) fn say(text: impl Display) {
    let mut out = io::stdout().lock();
    let written = write!(out, "{text}").and_then(|()| out.flush());
    if let Err(error) = written
        && error.kind() != ErrorKind::BrokenPipe
    {
        eprintln!("coldbed: standard output: {error}");
    }
}
