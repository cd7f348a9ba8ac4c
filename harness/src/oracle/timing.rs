//! How much time a watcher is allowed, from what it was measured to take.

use std::time::Duration;

/// Is what the calibration run measured, and the allowances that follow from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timing {
    /// Median time between two requests.
    pub interval: Duration,
    /// Longest time between two requests.
    pub longest_interval: Duration,
    /// Longest time between two requests while the printer was idle.
    pub longest_idle_interval: Duration,
    /// Longest time between two claims.
    pub longest_claim_gap: Duration,
    /// How late the harness itself was woken at worst, in this run.
    pub harness_delay: Duration,
}

impl Timing {
    /// Time from the arrival of an answer to its claim, beyond the watcher's own rhythm: reading,
    /// formatting, a pipe, a scheduler (own choice; the harness' own delay is added to it).
    const HANDLING: Duration = Duration::from_millis(250);

    /// Is the rhythm of a watcher that asks and claims at an even pace, on a machine that is never late.
    pub fn every(interval: Duration) -> Self {
        Self {
            interval,
            longest_interval: interval,
            longest_idle_interval: interval,
            longest_claim_gap: interval,
            harness_delay: Duration::ZERO,
        }
    }

    /// Gives the allowances for a watcher that was told to ask at another pace: its own spread comes
    /// on top of the new interval.
    #[must_use]
    pub fn at_interval(self, interval: Duration) -> Self {
        let shifted = |span: Duration| interval + span.saturating_sub(self.interval);
        Self {
            interval,
            longest_interval: shifted(self.longest_interval),
            longest_idle_interval: shifted(self.longest_idle_interval),
            longest_claim_gap: shifted(self.longest_claim_gap),
            harness_delay: self.harness_delay,
        }
    }

    /// Gives the allowances for a watcher that was seen to claim once in `gap`, as a display does that is
    /// redrawn at its own pace however often it is told to ask. Less often than it was measured to claim at
    /// its usual pace it need not be allowed to.
    #[must_use]
    pub fn claiming_every(self, gap: Duration, measured: Self) -> Self {
        let own_pace = (2 * gap).min(measured.longest_claim_gap);
        Self {
            longest_claim_gap: self.longest_claim_gap.max(own_pace),
            ..self
        }
    }

    /// How old an answer may be that a claim still rests on.
    ///
    /// One interval passes between two answers, and one between two claims of a display that is
    /// redrawn at its own pace.
    pub fn freshness(&self) -> Duration {
        self.longest_interval + self.longest_claim_gap + Self::HANDLING + self.harness_delay
    }

    /// Within what time a watcher says that it does not know, once it gets no usable answer.
    ///
    /// The failure shows at the next poll; two more are left for retries, and two seconds for a
    /// time-out of the client's own.
    pub fn unknown_within(&self) -> Duration {
        self.freshness() + 2 * self.longest_interval + Duration::from_secs(2)
    }

    /// Within what time a watcher is right again after an outage of the given length.
    ///
    /// A client that doubles its waits has, at the end of an outage, at most the outage's own
    /// length left to wait.
    pub fn recovery_within(&self, outage: Duration) -> Duration {
        outage + self.unknown_within()
    }

    /// Within what time a watcher notices that its host's clock stands still.
    ///
    /// A clock of whole seconds may stand still for a poll or two, so six polls are left for it beyond
    /// what any failure is allowed (own choice).
    pub fn frozen_within(&self) -> Duration {
        self.unknown_within() + 6 * self.longest_interval
    }

    /// Within what time after waking a watcher is right again whose connection has died meanwhile: it
    /// finds out as it finds any failure, and may wait as long once more before it tries a new one.
    pub fn awake_within(&self) -> Duration {
        2 * self.unknown_within()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_display_that_is_redrawn_at_its_own_pace_is_allowed_it_at_any_interval() {
        let ms = Duration::from_millis;
        let measured = Timing {
            longest_claim_gap: ms(700),
            ..Timing::every(ms(1000))
        };
        let often = measured.at_interval(ms(20));
        let gap_after = |gap| often.claiming_every(gap, measured).longest_claim_gap;
        assert_eq!(gap_after(ms(700)), ms(700));
        // One that claims after each answer is allowed a little more than the interval, and one that hangs no
        // more than usual.
        assert_eq!(gap_after(ms(20)), ms(40));
        assert_eq!(gap_after(ms(9000)), ms(700));
    }
}
