//! What is told on standard output.

use std::fmt::Display;
use std::io::{self, ErrorKind, Write as _};

/// Writes to standard output, and says on the error stream if it cannot. Whoever has stopped reading, as
/// `head` does, is told no more; the work goes on, and its exit code counts.
pub(super) fn say(text: impl Display) {
    if let Err(error) = write(text) {
        eprintln!("coldbed: standard output: {error}");
    }
}

/// Writes to standard output. A reader that has seen enough is no failure.
///
/// # Errors
/// What the system says, but for a pipe that nobody reads any more.
pub(super) fn write(text: impl Display) -> io::Result<()> {
    let mut out = io::stdout().lock();
    match write!(out, "{text}").and_then(|()| out.flush()) {
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        written => written,
    }
}
