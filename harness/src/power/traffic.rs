//! What was seen of a watcher on the wire, summed up.

use std::time::Duration;

/// Is the sum of what one watcher did on the network in one run.
///
/// For a watcher that asks at another pace while nothing is printed, sum up each phase by itself and
/// estimate each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Traffic {
    /// Real time from the first poll to the end.
    pub observed: Duration,
    /// How often it woke to ask; one poll may be several requests.
    pub polls: u64,
    /// Polls on top of those, made because the one before had failed. Each costs all of a poll again.
    pub retries: u64,
    /// Requests, those of retries included.
    pub requests: u64,
    /// Connections opened.
    pub connections_opened: u64,
    /// Full TLS handshakes on them.
    pub tls_handshakes: u64,
    /// Bytes to the watcher, heads included.
    pub bytes_received: u64,
    /// Bytes from the watcher, heads included.
    pub bytes_sent: u64,
    /// The sum of the times from the end of each request to the end of its answer. Not of streams,
    /// which have no end to wait for.
    pub waiting: Duration,
}
