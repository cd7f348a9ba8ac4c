//! The requests of a run, as rules about asking look at them.

use std::time::Duration;

use super::Timing;
use crate::event::{ConnectionNumber, Event, EventKind, ExchangeNumber};

/// Is one request.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked<'a> {
    /// When it arrived.
    pub at: Duration,
    /// On which connection.
    pub connection: ConnectionNumber,
    /// Which exchange it begins.
    pub exchange: ExchangeNumber,
    /// The method.
    pub method: &'a str,
    /// Path and query.
    pub target: &'a str,
    /// Field names, in lower case, and values.
    pub headers: &'a [(String, String)],
    /// The body.
    pub body: &'a [u8],
}

impl<'a> Asked<'a> {
    /// Gives the requests among events, in order.
    pub(super) fn all(events: &'a [Event]) -> Vec<Self> {
        events.iter().filter_map(Self::of).collect()
    }

    fn of(event: &'a Event) -> Option<Self> {
        match &event.kind {
            EventKind::Request {
                connection,
                exchange,
                method,
                target,
                headers,
                body,
            } => Some(Self {
                at: event.at,
                connection: *connection,
                exchange: *exchange,
                method,
                target,
                headers,
                body,
            }),
            _ => None,
        }
    }

    /// Gives the target without its query, which may differ at each poll to get past a cache.
    pub(super) fn path(&self) -> &'a str {
        self.target.split('?').next().unwrap_or(self.target)
    }

    /// Gives a field's value.
    pub(super) fn field(&self, name: &str) -> Option<&'a str> {
        self.headers
            .iter()
            .find(|(known, _)| known == name)
            .map(|(_, value)| value.as_str())
    }
}

/// Gives the times of the requests for the path asked for most: one for each poll of a watcher that
/// asks for several.
pub(super) fn polls(events: &[Event]) -> Vec<Duration> {
    let mut by_path: Vec<(&str, Vec<Duration>)> = Vec::new();
    for asked in Asked::all(events) {
        match by_path.iter_mut().find(|(path, _)| *path == asked.path()) {
            Some((_, times)) => times.push(asked.at),
            None => by_path.push((asked.path(), vec![asked.at])),
        }
    }
    by_path
        .into_iter()
        .map(|(_, times)| times)
        .max_by_key(Vec::len)
        .unwrap_or_default()
}

/// Is a time in which a fault was in force, with what happened in it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Trouble<'a> {
    /// When the harness set about raising it: no event of it is earlier.
    pub raised: Duration,
    /// When it was cleared, or the last moment observed.
    pub cleared: Duration,
    /// What happened in between.
    pub events: &'a [Event],
    /// What happened afterwards.
    pub after: &'a [Event],
}

impl<'a> Trouble<'a> {
    /// Gives the first fault of a stretch, up to where faults are cleared. What met the fault before the
    /// harness could tell that it is raised belongs to it.
    pub(super) fn first(events: &'a [Event]) -> Option<Self> {
        let (raised, begun) =
            events
                .iter()
                .enumerate()
                .find_map(|(index, event)| match &event.kind {
                    EventKind::FaultRaised { begun, .. } => Some((index, *begun)),
                    _ => None,
                })?;
        let early = events[..raised]
            .iter()
            .rev()
            .take_while(|event| event.at >= begun)
            .count();
        let cleared = events[raised..]
            .iter()
            .position(|event| matches!(event.kind, EventKind::FaultCleared))
            .map_or(events.len(), |after| raised + after);
        let last = events.get(cleared).or(events.last())?;
        Some(Self {
            raised: begun.min(events[raised].at),
            cleared: last.at,
            events: &events[raised - early..cleared],
            after: &events[cleared..],
        })
    }

    /// Gives how long it lasted.
    pub(super) fn lasted(&self) -> Duration {
        self.cleared - self.raised
    }
}

/// How many requests for one path nobody can call hammering in so long a time: three for each of the
/// watcher's own polls, or one a second, whichever is more, and five more, since what is short is
/// counted coarsely.
pub(super) fn not_hammering(timing: &Timing, lasts: Duration) -> usize {
    let own = timing.interval.as_secs_f64().max(1e-3);
    let per_second = (3.0 / own).max(1.0);
    whole(per_second * lasts.as_secs_f64()) + 5
}

/// Cuts a count off at its whole part.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts of requests in a run: positive and far below 2^53"
)]
pub(super) fn whole(count: f64) -> usize {
    count.max(0.0) as usize
}
