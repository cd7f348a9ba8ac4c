//! Everything that can be observed of a run, as one type.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::sim::{Truth, VirtualTime};

use crate::watcher::Sighting;

/// Is one thing that was observed, and when.
#[derive(Debug, Clone)]
pub struct Event {
    /// Real time since the run began.
    pub at: Duration,
    /// What was observed.
    pub kind: EventKind,
}

impl Event {
    /// Tells whether a request arrived.
    pub fn is_request(&self) -> bool {
        matches!(self.kind, EventKind::Request { .. })
    }

    /// Tells whether the watcher's process ended by itself.
    pub fn is_exit(&self) -> bool {
        matches!(self.kind, EventKind::Exited { .. })
    }
}

/// Says what was observed.
#[derive(Debug, Clone)]
pub enum EventKind {
    /// A request arrived.
    Request {
        /// The method, as sent.
        method: String,
        /// The request target, as sent: path and query.
        target: String,
        /// Field names and values, as sent.
        headers: Vec<(String, String)>,
    },
    /// An answer was handed to the connection.
    Answer {
        /// The status code.
        status: u16,
        /// The truth it was made from.
        truth: Arc<Truth>,
    },
    /// The virtual clock was set or its rate changed.
    Clock {
        /// The moment it now shows.
        virtual_time: VirtualTime,
        /// Virtual seconds per real second from here on.
        rate: f64,
    },
    /// The connection began to misbehave.
    FaultRaised {
        /// What is wrong, in words.
        fault: String,
    },
    /// The connection is well again.
    FaultCleared,
    /// Bodies began to differ from the dialect.
    DriftRaised {
        /// How they differ, in words.
        drift: String,
    },
    /// Bodies are as the dialect says again.
    DriftCleared,
    /// The watcher claimed something.
    Sighting(Sighting),
    /// The watcher wrote a line that is no sighting.
    Line {
        /// Whether it came on the error stream.
        on_stderr: bool,
        /// The line, without its end.
        text: String,
    },
    /// The watcher asked nothing for so long that the run went on without it.
    StoppedAsking {
        /// How long it was waited for.
        waited: Duration,
    },
    /// The watcher's process ended by itself.
    Exited {
        /// How, in words: `exit status: 1`.
        status: String,
    },
}
