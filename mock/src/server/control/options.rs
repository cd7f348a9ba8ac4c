//! What the control API is started with.

use std::fmt;
use std::io::Write;
use std::net::SocketAddr;

use crate::control::LoggedRun;

/// Is what the control API is started with. By default nothing listens and nothing is replayed, and
/// only [`Host::control`](crate::server::Host::control) changes anything.
#[derive(Debug, Default)]
pub struct ControlOptions {
    /// Where to listen for HTTP; `None` does not. Port 0 takes a free one.
    pub listen: Option<SocketAddr>,
    /// The key that requests need (RFC 6750); `None` lets everybody in, and is allowed on loopback
    /// only.
    pub key: Option<String>,
    /// Where the log is written too, line by line.
    pub log: Option<LogFile>,
    /// The changes to make again, each at its virtual time. The clock is not set by them: how fast
    /// the run is gone through is up to whoever replays it.
    pub replay: Option<LoggedRun>,
}

/// Is where a log is written.
pub struct LogFile(Box<dyn Write + Send>);

impl LogFile {
    /// Writes to a file, or whatever takes bytes. Each line is flushed.
    pub fn new(file: impl Write + Send + 'static) -> Self {
        Self(Box::new(file))
    }

    pub(super) fn write_line(&mut self, line: &str) -> std::io::Result<()> {
        self.0.write_all(line.as_bytes())?;
        self.0.write_all(b"\n")?;
        self.0.flush()
    }
}

impl fmt::Debug for LogFile {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("LogFile")
    }
}
