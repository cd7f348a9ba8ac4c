//! A condition that has to hold for a while.

use std::time::Duration;

/// Remembers since when a condition holds without a break.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Dwell {
    since: Option<Duration>,
}

impl Dwell {
    /// Returns how long the condition, true or not now, has held; `None` if it does not.
    pub(super) fn length(&mut self, condition: bool, at: Duration) -> Option<Duration> {
        if !condition {
            self.since = None;
            return None;
        }
        Some(at.saturating_sub(*self.since.get_or_insert(at)))
    }

    /// Tells whether the condition, true or not now, has held for the period; at once with a period of nothing.
    pub(super) fn held(&mut self, condition: bool, at: Duration, period: Duration) -> bool {
        self.length(condition, at)
            .is_some_and(|length| length >= period)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn held_at(dwell: &mut Dwell, condition: bool, at_s: u64) -> bool {
        dwell.held(
            condition,
            Duration::from_secs(at_s),
            Duration::from_secs(10),
        )
    }

    #[test]
    fn a_break_starts_the_period_anew() {
        let mut dwell = Dwell::default();
        assert!(!held_at(&mut dwell, true, 0));
        assert!(!held_at(&mut dwell, true, 9));
        assert!(!held_at(&mut dwell, false, 10));
        assert!(!held_at(&mut dwell, true, 11));
        assert!(!held_at(&mut dwell, true, 20));
        assert!(held_at(&mut dwell, true, 21));
    }

    #[test]
    fn no_period_holds_at_once() {
        assert!(Dwell::default().held(true, Duration::ZERO, Duration::ZERO));
    }
}
