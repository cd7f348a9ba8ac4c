//! The log of a run, filled from all sides and waited on by the one who leads it.
#![expect(
    clippy::disallowed_methods,
    reason = "events are stamped with real time here"
)]

use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use coldbed_mock::server::{Observer, WireEvent};
use coldbed_mock::sim::Trouble;
use tokio::sync::watch;

use crate::event::{Event, EventKind};

/// Collects the events of one run in the order in which they were seen.
#[derive(Debug)]
pub struct Recorder {
    began: Instant,
    events: Mutex<Vec<Event>>,
    count: watch::Sender<usize>,
}

impl Default for Recorder {
    fn default() -> Self {
        Self {
            began: Instant::now(),
            events: Mutex::default(),
            count: watch::Sender::new(0),
        }
    }
}

impl Recorder {
    /// Adds what is seen now.
    pub fn note(&self, kind: EventKind) {
        self.note_at(Instant::now(), kind);
    }

    fn note_at(&self, at: Instant, kind: EventKind) {
        let at = at.saturating_duration_since(self.began);
        let mut events = self.lock();
        // Two threads may stamp in one order and arrive in the other; oracles rely on order.
        let place = events.partition_point(|event| event.at <= at);
        events.insert(place, Event { at, kind });
        self.count.send_replace(events.len());
    }

    /// Forgets what was seen until now.
    pub(super) fn forget(&self) {
        self.lock().clear();
    }

    /// Gives the time since the run began.
    pub fn now(&self) -> Duration {
        self.began.elapsed()
    }

    /// Waits until the events satisfy a condition. Gives false if the time ran out first.
    pub async fn wait_until(
        &self,
        limit: Duration,
        mut condition: impl FnMut(&[Event]) -> bool,
    ) -> bool {
        let mut count = self.count.subscribe();
        let deadline = tokio::time::Instant::now() + limit;
        loop {
            if condition(&self.lock()) {
                return true;
            }
            match tokio::time::timeout_at(deadline, count.changed()).await {
                Ok(Ok(())) => {}
                _ => return condition(&self.lock()),
            }
        }
    }

    /// Lets something look at the events so far.
    pub fn with<T>(&self, look: impl FnOnce(&[Event]) -> T) -> T {
        look(&self.lock())
    }

    fn lock(&self) -> MutexGuard<'_, Vec<Event>> {
        // Nothing that holds the lock can panic half-way through a change.
        self.events.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Observer for Recorder {
    fn observe(&self, at: Instant, event: WireEvent) {
        if let Some(kind) = kind_of(event) {
            self.note_at(at, kind);
        }
    }
}

/// Gives what is kept of what crossed the wire.
fn kind_of(event: WireEvent) -> Option<EventKind> {
    Some(match event {
        WireEvent::ConnectionOpened { connection, .. } => EventKind::ConnectionOpened {
            connection: connection.0,
        },
        WireEvent::ConnectionClosed { connection, .. } => EventKind::ConnectionClosed {
            connection: connection.0,
        },
        WireEvent::ConnectionReset {
            connection,
            after_bytes,
            ..
        } => EventKind::ConnectionReset {
            connection: connection.0,
            after_bytes,
        },
        WireEvent::RequestReceived {
            connection,
            exchange,
            method,
            target,
            headers,
            body,
            ..
        } => EventKind::Request {
            connection: connection.0,
            exchange: exchange.0,
            method: method.to_string(),
            target,
            headers,
            body,
        },
        WireEvent::AnswerSent {
            exchange,
            status,
            headers,
            body,
            truth,
            ..
        } => EventKind::Answer {
            exchange: exchange.0,
            status: status.as_u16(),
            headers,
            body,
            truth,
        },
        WireEvent::PushSent {
            exchange,
            bytes,
            truth,
            ..
        } => EventKind::Pushed {
            exchange: exchange.0,
            bytes,
            truth,
        },
        WireEvent::FaultHappened {
            connection,
            exchange,
            fault,
            ..
        } => EventKind::FaultHappened {
            connection: connection.0,
            exchange: exchange.map(|exchange| exchange.0),
            fault,
        },
        WireEvent::FaultRaised { fault, .. } => EventKind::TroubleBegan {
            trouble: Trouble::Fault(fault),
        },
        WireEvent::FaultCleared { fault, .. } => EventKind::TroubleEnded {
            trouble: Trouble::Fault(fault),
        },
        WireEvent::DriftRaised { drift, .. } => EventKind::TroubleBegan {
            trouble: Trouble::Drift(drift),
        },
        WireEvent::DriftCleared { drift, .. } => EventKind::TroubleEnded {
            trouble: Trouble::Drift(drift),
        },
        _ => return None,
    })
}
