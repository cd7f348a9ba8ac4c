//! Everything that can be observed of a run, as one type.

use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use coldbed_mock::fault::ScopedFault;
use coldbed_mock::sim::{Trouble, Truth, VirtualTime};

use crate::recorded::Heard;
use crate::watcher::{Resources, Sighting};

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

/// Numbers a connection within a run.
pub type ConnectionNumber = u64;

/// Numbers a request with its answer within a run.
pub type ExchangeNumber = u64;

/// Says what was observed.
#[derive(Debug, Clone)]
pub enum EventKind {
    /// The watcher has connected.
    ConnectionOpened {
        /// Which connection.
        connection: ConnectionNumber,
    },
    /// A connection has ended, whoever ended it.
    ConnectionClosed {
        /// Which connection.
        connection: ConnectionNumber,
    },
    /// A fault has reset a connection.
    ConnectionReset {
        /// Which connection.
        connection: ConnectionNumber,
        /// How many bytes of the answer under way had been sent.
        after_bytes: u64,
    },
    /// A request arrived.
    Request {
        /// On which connection.
        connection: ConnectionNumber,
        /// Which exchange it begins.
        exchange: ExchangeNumber,
        /// The method, as sent.
        method: String,
        /// The request target, as sent: path and query.
        target: String,
        /// Field names and values, as sent; names in lower case.
        headers: Vec<(String, String)>,
        /// The body.
        body: Bytes,
    },
    /// An answer was handed to the connection.
    Answer {
        /// Which exchange it ends.
        exchange: ExchangeNumber,
        /// The status code.
        status: u16,
        /// Field names and values.
        headers: Vec<(String, String)>,
        /// The body, whole, whatever a fault then lets through.
        body: Bytes,
        /// The truth it was made from.
        truth: Arc<Truth>,
    },
    /// A piece of a push stream was handed to the connection.
    Pushed {
        /// Of which exchange.
        exchange: ExchangeNumber,
        /// The bytes.
        bytes: Bytes,
        /// The truth they were made from.
        truth: Arc<Truth>,
    },
    /// An answer of a recorded session was handed to the connection.
    Replayed {
        /// Which exchange of the run it ends.
        exchange: ExchangeNumber,
        /// What it says.
        heard: Arc<Heard>,
    },
    /// A request came to the other origin that a redirect named.
    Elsewhere {
        /// The request target, as sent.
        target: String,
        /// Field names and values, as sent; names in lower case.
        headers: Vec<(String, String)>,
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
        /// When the harness set about it. What is asked from then on may meet it already, and is told
        /// before this on a busy machine.
        begun: Duration,
    },
    /// A fault had a part in something.
    FaultHappened {
        /// On which connection.
        connection: ConnectionNumber,
        /// To which exchange; `None` if it happened to the connection itself.
        exchange: Option<ExchangeNumber>,
        /// Which fault.
        fault: Arc<ScopedFault>,
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
    /// A fault or a drift came into force, whoever raised it: a plan, the scenario's timeline, a test.
    ///
    /// What a plan raises is noted in words besides, once it is in force.
    TroubleBegan {
        /// What it is.
        trouble: Trouble,
    },
    /// A fault or a drift was taken back, whoever had raised it.
    TroubleEnded {
        /// What it was.
        trouble: Trouble,
    },
    /// The timeline took the host away: it restarts, or has no power.
    HostWent,
    /// The host is there again.
    HostCame,
    /// Something happened to the printer or its host that the scenario did not plan.
    PrinterEvent {
        /// What, in words.
        event: String,
    },
    /// The watcher was told to ask something of the printer.
    CommandGiven {
        /// What.
        command: String,
    },
    /// The watcher's process was stopped, as a sleeping device is.
    Suspended,
    /// The watcher's process goes on.
    Resumed,
    /// What comes from here on belongs to a trial of its own.
    TrialBegan {
        /// What is tried, in words: the drift and its place.
        label: String,
    },
    /// The trial is over; between two trials nothing is judged.
    TrialEnded,
    /// What the watcher's processes use.
    Resources(Resources),
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
    /// The run is over: until here nothing more was seen.
    RunEnded,
    /// The watcher was started again, after it had ended, for the next trial.
    Restarted,
}
