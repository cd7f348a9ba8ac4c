//! The host's own clock, which tells an answer that is true now from one that was.

use std::time::Duration;

/// A step back by less is an old answer, one by more a host that has restarted (own choice: no answer
/// is on its way for so long).
const RESTART_SECONDS: f64 = 600.0;
/// So many steps back in a row are no old answers either: a host that was up for a short time only
/// has restarted (own choice).
const STEPS_BACK: u32 = 3;
/// So many answers may say the same: a slow clock is no hung host (own choice).
const ALIKE: u32 = 6;
/// However fast the watcher asks, a clock of whole seconds stands still for one (own choice: twice
/// that).
const LEAST: Duration = Duration::from_secs(2);

/// Is the newest up-time that the host has shown.
#[derive(Debug, Default)]
pub(super) struct Clock {
    newest: Option<Newest>,
}

#[derive(Debug)]
struct Newest {
    seconds: f64,
    since: Duration,
    alike: u32,
    steps_back: u32,
}

impl Clock {
    /// Tells whether an answer of the moment `now` is an old one, by the up-time that it shows. Who
    /// shows none is believed.
    pub(super) fn is_old(&mut self, up_time: Option<f64>, now: Duration, every: Duration) -> bool {
        let Some(seconds) = up_time else {
            return false;
        };
        if let Some(newest) = &mut self.newest {
            let back = newest.seconds - seconds;
            // Two hosts or a cache behind one address: now this answer, now that.
            if back > 0.0 && back < RESTART_SECONDS && newest.steps_back + 1 < STEPS_BACK {
                newest.steps_back += 1;
                return true;
            }
            // A hung program behind its web server.
            if back.abs() < f64::EPSILON {
                newest.steps_back = 0;
                newest.alike += 1;
                let stood = now.saturating_sub(newest.since);
                return newest.alike > ALIKE && stood >= LEAST.max(ALIKE * every);
            }
        }
        self.newest = Some(Newest {
            seconds,
            since: now,
            alike: 0,
            steps_back: 0,
        });
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Asks every so many milliseconds and gives which answers are old.
    fn old(every_ms: u64, up_times: impl IntoIterator<Item = f64>) -> Vec<bool> {
        let every = Duration::from_millis(every_ms);
        let mut clock = Clock::default();
        let answers = up_times.into_iter().enumerate();
        let is_old = |(count, up_time)| {
            let now = every * u32::try_from(count).unwrap();
            clock.is_old(Some(up_time), now, every)
        };
        answers.map(is_old).collect()
    }

    #[test]
    fn every_answer_that_is_older_than_the_one_before_is_old() {
        let up_times = [700.0, 692.0, 708.0, 700.0, 716.0, 708.0, 724.0];
        let expected = [false, true, false, true, false, true, false];
        assert_eq!(old(1000, up_times), expected);
    }

    #[test]
    fn a_host_that_has_restarted_is_believed_at_once_or_soon_if_it_was_up_for_a_short_time() {
        assert_eq!(old(1000, [900.0, 1.0, 2.0]), [false, false, false]);
        let short = old(1000, [90.0, 1.0, 2.0, 3.0, 4.0]);
        assert_eq!(short, [false, true, true, false, false]);
    }

    #[test]
    fn a_clock_that_stands_still_is_noticed_and_one_that_goes_on_believed_again() {
        let up_times = [7.0].repeat(8).into_iter().chain([8.0]);
        let expected = [vec![false; 7], vec![true, false]].concat();
        assert_eq!(old(1000, up_times), expected);
    }

    #[test]
    fn a_clock_of_whole_seconds_goes_on_however_fast_it_is_asked() {
        for every_ms in [10, 100, 400, 1000, 5000] {
            #[expect(clippy::cast_precision_loss, reason = "small")]
            let up_times = (0..300).map(|count| (count * every_ms / 1000) as f64);
            assert!(!old(every_ms, up_times).contains(&true), "{every_ms}");
        }
    }

    #[test]
    fn a_host_without_a_clock_is_believed() {
        let mut clock = Clock::default();
        for count in 0..30 {
            let now = Duration::from_secs(count);
            assert!(!clock.is_old(None, now, Duration::from_secs(1)));
        }
    }
}
