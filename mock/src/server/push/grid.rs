//! The moments at which bodies are looked at.

use std::time::Duration;

use tokio::time::{Instant, Interval, MissedTickBehavior};

/// Gives the looks of a follower: the next moment that is a multiple of `period` after `epoch`, and
/// so on.
///
/// All who follow a route look at the same moments. What they are shown is rendered once, and who
/// comes back finds the states that the others were shown meanwhile, not some in between.
pub(super) fn looks(epoch: Instant, period: Duration) -> Interval {
    let mut looks = tokio::time::interval_at(next(epoch, Instant::now(), period), period);
    // A client that was slow to read gets the present state, not the looks it missed.
    looks.set_missed_tick_behavior(MissedTickBehavior::Skip);
    looks
}

fn next(epoch: Instant, now: Instant, period: Duration) -> Instant {
    let past = now.saturating_duration_since(epoch).as_nanos();
    let into = past % period.as_nanos().max(1);
    // Less than a period, which fits.
    let into = Duration::from_nanos(u64::try_from(into).unwrap_or_default());
    now + (period - into)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_next_look_is_the_next_multiple_of_the_period() {
        let epoch = Instant::now();
        let ms = Duration::from_millis;
        for (past, expected) in [(0, 500), (1, 500), (499, 500), (500, 1000), (1730, 2000)] {
            let next = next(epoch, epoch + ms(past), ms(500));
            assert_eq!(next - epoch, ms(expected), "{past}");
        }
    }
}
