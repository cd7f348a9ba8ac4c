//! The span of virtual time that is shown.

use std::time::Duration;

use coldbed_mock::sim::{Tick, VirtualTime};

use super::PlotError;

/// Is a span of virtual time, both ends included, at least one tick long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    from: Tick,
    until: Tick,
}

impl Window {
    /// The latest moment: two months, as long as a scenario can be. Without a bound a slip of the
    /// unit would simulate for days.
    pub const LATEST: Duration = Duration::from_secs(62 * 24 * 3600);

    /// Takes the two ends.
    ///
    /// # Errors
    /// [`PlotError::EmptyWindow`] when the second is not later than the first,
    /// [`PlotError::TooLate`] when it is later than [`Self::LATEST`].
    pub fn new(from: Duration, until: Duration) -> Result<Self, PlotError> {
        if until <= from {
            return Err(PlotError::EmptyWindow {
                from: VirtualTime::new(from),
                until: VirtualTime::new(until),
            });
        }
        if until > Self::LATEST {
            return Err(PlotError::TooLate {
                until: VirtualTime::new(until),
                latest: VirtualTime::new(Self::LATEST),
            });
        }
        Ok(Self {
            from: VirtualTime::new(from).tick(),
            until: Tick::at_or_after(until),
        })
    }

    /// Gives the first moment.
    pub const fn from(self) -> Tick {
        self.from
    }

    /// Gives the last moment.
    pub const fn until(self) -> Tick {
        self.until
    }

    /// Gives the number of ticks from the first to the last moment, at least 1.
    pub const fn ticks(self) -> u64 {
        self.until.0 - self.from.0
    }

    /// Lists every `step`th moment from the first on.
    pub(super) fn moments(self, step: Tick) -> impl Iterator<Item = Tick> {
        let step = usize::try_from(step.0.max(1)).unwrap_or(usize::MAX);
        (self.from.0..=self.until.0).step_by(step).map(Tick)
    }

    /// Gives where a moment lies: 0 at the first, 1 at the last.
    pub(super) fn fraction(self, at: Tick) -> f64 {
        as_f64(at.0.clamp(self.from.0, self.until.0) - self.from.0) / as_f64(self.ticks())
    }

    /// Gives which of `columns` equal columns a moment of the window falls into.
    pub(super) fn column(self, at: Tick, columns: u32) -> u64 {
        let columns = u64::from(columns);
        // The last moment belongs to the last column, not to one of its own.
        ((at.0 - self.from.0) * columns / self.ticks()).min(columns - 1)
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "two months have far fewer than 2^53 ticks"
)]
fn as_f64(ticks: u64) -> f64 {
    ticks as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window(from_ms: u64, until_ms: u64) -> Result<Window, PlotError> {
        Window::new(
            Duration::from_millis(from_ms),
            Duration::from_millis(until_ms),
        )
    }

    #[test]
    fn an_end_that_is_not_later_is_refused_with_both_named() {
        let message = window(600_000, 300_000).unwrap_err().to_string();
        assert!(
            message.starts_with("nothing lies between --from 10m and --until 5m"),
            "{message}"
        );
        assert!(window(1_000, 1_000).is_err());
    }

    #[test]
    fn a_slip_of_the_unit_is_refused_instead_of_simulated() {
        assert!(Window::new(Duration::ZERO, Window::LATEST).is_ok());
        let late = Window::LATEST + Duration::from_secs(1);
        assert!(matches!(
            Window::new(Duration::ZERO, late),
            Err(PlotError::TooLate { .. })
        ));
    }

    #[test]
    fn the_shortest_window_holds_a_tick_even_off_the_grid() {
        assert_eq!(window(10, 20).unwrap().ticks(), 1);
        assert_eq!(window(0, 100).unwrap().moments(Tick(1)).count(), 2);
    }

    #[test]
    fn every_moment_falls_into_a_column_and_the_columns_are_in_order() {
        let window = window(1_000, 8_000).unwrap();
        let columns: Vec<u64> = window
            .moments(Tick(1))
            .map(|at| window.column(at, 7))
            .collect();
        assert!(columns.is_sorted());
        assert_eq!((columns[0], columns[70]), (0, 6));
        // 70 ticks in 7 columns: ten each, and the last moment in the last column.
        assert_eq!(columns.iter().filter(|column| **column == 3).count(), 10);
        assert_eq!(columns.iter().filter(|column| **column == 6).count(), 11);
    }
}
