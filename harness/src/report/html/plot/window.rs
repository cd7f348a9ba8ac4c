//! The span of a run that is drawn, and where its moments are on the page.

use std::time::Duration;

use crate::event::Event;
use crate::oracle::Timing;

/// The drawing's width, and where its panels begin and end, px.
pub(super) const WIDTH: f64 = 800.0;
pub(super) const LEFT: f64 = 118.0;
pub(super) const RIGHT: f64 = 788.0;

/// Is a span of a run round a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) struct Window {
    from: Duration,
    until: Duration,
    moment: Duration,
    /// How long an answer counts.
    counts_for: Duration,
}

impl Window {
    /// Shows what a claim may rest on several times over before a moment, and what became of it
    /// after; all of it if the run is short.
    pub(in super::super) fn around(at: Duration, timing: &Timing, events: &[Event]) -> Self {
        let before = (4 * timing.freshness()).max(Duration::from_secs(10));
        let after = (2 * timing.freshness()).max(Duration::from_secs(4));
        let end = events.last().map_or(at, |event| event.at).max(at);
        let from = at.saturating_sub(before);
        Self {
            from,
            until: (at + after).min(end).max(from + Duration::from_millis(100)),
            moment: at,
            counts_for: timing.freshness(),
        }
    }

    /// Gives until when an answer counts, if none comes after it.
    pub(super) fn counts_until(self, answered: Duration) -> Duration {
        answered + self.counts_for
    }

    pub(super) fn moment(self) -> Duration {
        self.moment
    }

    pub(super) fn from(self) -> Duration {
        self.from
    }

    pub(super) fn until(self) -> Duration {
        self.until
    }

    /// Gives the length in seconds; never zero.
    pub(super) fn seconds(self) -> f64 {
        (self.until - self.from).as_secs_f64()
    }

    /// Tells whether a moment is in it.
    pub(super) fn has(self, at: Duration) -> bool {
        (self.from..=self.until).contains(&at)
    }

    /// Gives a moment's place; one outside is at the edge.
    pub(super) fn x(self, at: Duration) -> f64 {
        let at = at.clamp(self.from, self.until) - self.from;
        LEFT + (RIGHT - LEFT) * at.as_secs_f64() / self.seconds()
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Is a window of so many seconds in which an answer counts for three.
    pub(in super::super) fn window(seconds: u64) -> Window {
        Window {
            from: Duration::ZERO,
            until: Duration::from_secs(seconds),
            moment: Duration::from_secs(seconds / 2),
            counts_for: Duration::from_secs(3),
        }
    }

    #[test]
    fn what_is_outside_is_drawn_at_the_edge() {
        let window = window(10);
        let places = [0, 5, 10, 11].map(|at| window.x(Duration::from_secs(at)));
        let middle = f64::midpoint(LEFT, RIGHT);
        for (place, right) in places.iter().zip([LEFT, middle, RIGHT, RIGHT]) {
            assert!((place - right).abs() < 1e-9);
        }
    }
}
