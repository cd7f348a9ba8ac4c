//! Average current, life and cross-over: the arithmetic, without boards.
//!
//! # Source
//! The charge balance of a duty cycle (common practice): `I = (I_active t + I_sleep (T - t)) / T`,
//! life `eta Q / I`, with T the poll period, t what a poll takes, Q the capacity, eta the usable
//! share. A slow host adds its waiting at the current of listening.

use super::units::{Hours, MilliampHours, Milliamps, Seconds};

/// Is one way to live between polls: what a poll takes, and what flows the rest of the time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DutyCycle {
    /// Time at work in each poll.
    pub(super) active: Seconds,
    /// Time listening in each poll.
    pub(super) receiving: Seconds,
    /// Current at work.
    pub(super) active_current: Milliamps,
    /// Current while listening.
    pub(super) receive_current: Milliamps,
    /// Current between polls.
    pub(super) sleep_current: Milliamps,
}

impl DutyCycle {
    /// What one poll takes.
    pub(super) fn burst(&self) -> Seconds {
        Seconds(self.active.0 + self.receiving.0)
    }

    /// The average current at that period. Where a poll takes longer than the period there is no
    /// sleep, and one poll follows the other.
    pub(super) fn average(&self, period: Seconds) -> Milliamps {
        let whole = period.0.max(self.burst().0);
        if whole <= 0.0 {
            return self.sleep_current;
        }
        Milliamps(self.sleep_current.0 + self.above_sleep() / whole)
    }

    /// What a poll costs on top of sleeping through it, mA s.
    ///
    /// The formula's sum with the sleep current taken out, so that a longer period can but lower
    /// what is left, whatever the rounding.
    fn above_sleep(&self) -> f64 {
        self.active.0 * (self.active_current.0 - self.sleep_current.0)
            + self.receiving.0 * (self.receive_current.0 - self.sleep_current.0)
    }
}

/// How long a charge lasts at a current.
pub(super) fn life(usable: MilliampHours, current: Milliamps) -> Hours {
    Hours(usable.0 / current.0)
}

/// Says from which poll period on deep sleep is cheaper than staying joined.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum CrossOver {
    /// From this period on, s.
    From(Seconds),
    /// It is cheaper at any period: joining costs nothing.
    DeepSleepAlways,
    /// It never is: staying joined draws no more than deep sleep.
    JoinedAlways,
}

/// Gives where the averages of the two ways meet: `T = (E_deep - E_joined) / (I_joined - I_deep)`,
/// with E what a poll costs on top of sleeping through it.
///
/// Not below what a poll out of deep sleep takes: until then it does not sleep at all.
pub(super) fn cross_over(joined: &DutyCycle, deep_sleep: &DutyCycle) -> CrossOver {
    let dearer_poll = deep_sleep.above_sleep() - joined.above_sleep();
    let cheaper_sleep = joined.sleep_current.0 - deep_sleep.sleep_current.0;
    if dearer_poll <= 0.0 {
        CrossOver::DeepSleepAlways
    } else if cheaper_sleep <= 0.0 {
        CrossOver::JoinedAlways
    } else {
        let meet = dearer_poll / cheaper_sleep;
        CrossOver::From(Seconds(meet.max(deep_sleep.burst().0)))
    }
}
