//! The log of a run, filled from all sides and waited on by the one who leads it.
#![expect(
    clippy::disallowed_methods,
    reason = "events are stamped with real time here"
)]

use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use coldbed_mock::server::{Observer, WireEvent};
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
        let kind = match event {
            WireEvent::RequestReceived {
                method,
                target,
                headers,
                ..
            } => EventKind::Request {
                method: method.to_string(),
                target,
                headers,
            },
            WireEvent::AnswerSent { status, truth, .. } => EventKind::Answer {
                status: status.as_u16(),
                truth,
            },
            _ => return,
        };
        self.note_at(at, kind);
    }
}
