//! The virtual clock.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use tokio::sync::watch;

use crate::sim::VirtualTime;

/// Says why a clock cannot be set so.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ClockError {
    /// The rate is negative, infinite or no number.
    #[error("rate {0} is not a number of virtual seconds per real second, 0 or more")]
    Rate(f64),
    /// The moment is past.
    #[error("cannot go back from {now} to {to}")]
    Back {
        /// The moment the clock shows.
        now: VirtualTime,
        /// The moment asked for.
        to: VirtualTime,
    },
}

/// Is virtual time as a function of real time; a clone is the same clock. It never goes back.
///
/// Nothing ticks in it: a reading is computed from the real time since the last change of its rate.
#[derive(Debug, Clone)]
pub struct Clock(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    state: Mutex<State>,
    /// Told when the clock is set, so that whoever waits for a moment reckons anew.
    set: watch::Sender<()>,
}

#[derive(Debug)]
struct State {
    since: Instant,
    shown: VirtualTime,
    rate: f64,
    paused: bool,
}

/// The longest that is waited at once.
///
/// Chosen: a timer takes it, and nobody notices the reckoning.
const LONG_WAIT: Duration = Duration::from_secs(24 * 3600);

impl Clock {
    /// Makes a clock that shows 0 and runs at `rate` virtual seconds per real second.
    ///
    /// # Errors
    /// [`ClockError::Rate`].
    pub fn new(rate: f64) -> Result<Self, ClockError> {
        let clock = Self::paused_at(VirtualTime::ZERO);
        clock.set_rate(rate)?;
        clock.resume();
        Ok(clock)
    }

    /// Makes a clock that stands still until [`Clock::resume`]; its rate is 1 then.
    pub fn paused_at(shown: VirtualTime) -> Self {
        Self(Arc::new(Inner {
            state: Mutex::new(State {
                since: real_now(),
                shown,
                rate: 1.0,
                paused: true,
            }),
            set: watch::Sender::new(()),
        }))
    }

    /// Reads the clock.
    pub fn now(&self) -> VirtualTime {
        self.state().at(real_now())
    }

    /// Gives the rate in virtual seconds per real second, also while the clock is paused.
    pub fn rate(&self) -> f64 {
        self.state().rate
    }

    /// Sets the rate from now on.
    ///
    /// # Errors
    /// [`ClockError::Rate`].
    pub fn set_rate(&self, rate: f64) -> Result<(), ClockError> {
        if !rate.is_finite() || rate < 0.0 {
            return Err(ClockError::Rate(rate));
        }
        self.change(|state| state.rate = rate);
        Ok(())
    }

    /// Tells whether the clock is paused.
    pub fn is_paused(&self) -> bool {
        self.state().paused
    }

    /// Tells whether the clock moves by itself.
    pub(super) fn is_running(&self) -> bool {
        let state = self.state();
        !state.paused && state.rate > 0.0
    }

    /// Tells of each time that the clock is set.
    pub(super) fn sets(&self) -> watch::Receiver<()> {
        self.0.set.subscribe()
    }

    /// Lets the clock stand still.
    pub fn pause(&self) {
        self.change(|state| state.paused = true);
    }

    /// Lets a paused clock run.
    pub fn resume(&self) {
        self.change(|state| state.paused = false);
    }

    /// Puts the clock forward to a moment, running or paused.
    ///
    /// # Errors
    /// [`ClockError::Back`].
    pub fn jump_to(&self, to: VirtualTime) -> Result<(), ClockError> {
        self.change(|state| {
            if to < state.shown {
                let now = state.shown;
                return Err(ClockError::Back { now, to });
            }
            state.shown = to;
            Ok(())
        })
    }

    /// Puts the clock forward by a span, running or paused.
    pub fn step(&self, span: Duration) {
        self.change(|state| state.shown = state.shown + span);
    }

    /// Waits until the clock shows a moment, however it is set meanwhile.
    pub async fn reaches(&self, moment: VirtualTime) {
        let mut set = self.0.set.subscribe();
        loop {
            let left = self.state().real_time_until(moment, real_now());
            let arrives = async {
                match left {
                    Some(left) => tokio::time::sleep(left).await,
                    None => std::future::pending().await,
                }
            };
            if left.is_some_and(|left| left.is_zero()) {
                return;
            }
            tokio::select! {
                () = arrives => {}
                // The sender lives in this clock.
                _ = set.changed() => {}
            }
        }
    }

    /// Reads what is set and changes it; whoever waits for a moment is told.
    fn change<T>(&self, change: impl FnOnce(&mut State) -> T) -> T {
        let mut state = self.state();
        state.settle(real_now());
        let changed = change(&mut state);
        drop(state);
        self.0.set.send_replace(());
        changed
    }

    fn state(&self) -> MutexGuard<'_, State> {
        // No change is left half made.
        self.0.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    fn at(&self, real: Instant) -> VirtualTime {
        if self.paused {
            return self.shown;
        }
        let real_s = real.saturating_duration_since(self.since).as_secs_f64();
        // Too much for a `Duration` is the end of time, not a panic.
        let span = Duration::try_from_secs_f64(real_s * self.rate).unwrap_or(Duration::MAX);
        self.shown + span
    }

    /// Gives how long it takes until the clock shows a moment; `None` if it does not run.
    fn real_time_until(&self, moment: VirtualTime, real: Instant) -> Option<Duration> {
        let left = moment
            .since_start()
            .saturating_sub(self.at(real).since_start());
        if left.is_zero() {
            return Some(Duration::ZERO);
        }
        if self.paused || self.rate <= 0.0 {
            return None;
        }
        let real_s = left.as_secs_f64() / self.rate;
        // A timer of the runtime takes whole milliseconds, and one too early would go round and round.
        let wait = Duration::try_from_secs_f64(real_s).unwrap_or(LONG_WAIT);
        Some(wait.clamp(Duration::from_millis(1), LONG_WAIT))
    }

    fn settle(&mut self, real: Instant) {
        self.shown = self.at(real);
        self.since = real;
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "this is the clock that the rest of the program reads"
)]
pub(super) fn real_now() -> Instant {
    Instant::now()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: u64) -> VirtualTime {
        VirtualTime::new(Duration::from_secs(seconds))
    }

    #[test]
    fn runs_at_its_rate_from_where_it_was_when_the_rate_changed() {
        let start = real_now();
        let mut state = State {
            since: start,
            shown: at(5),
            rate: 60.0,
            paused: false,
        };
        assert_eq!(state.at(start + Duration::from_secs(2)), at(125));
        state.settle(start + Duration::from_secs(2));
        state.rate = 0.5;
        assert_eq!(state.at(start + Duration::from_secs(6)), at(127));
        state.settle(start + Duration::from_secs(6));
        state.paused = true;
        assert_eq!(state.at(start + Duration::from_secs(600)), at(127));
    }

    #[test]
    fn a_paused_clock_moves_only_when_put_forward_and_never_back() {
        let clock = Clock::paused_at(at(10));
        clock.step(Duration::from_secs(5));
        assert_eq!(clock.now(), at(15));
        assert_eq!(clock.jump_to(at(20)), Ok(()));
        assert_eq!(
            clock.jump_to(at(19)),
            Err(ClockError::Back {
                now: at(20),
                to: at(19)
            })
        );
        assert_eq!(clock.clone().now(), at(20));
    }

    #[test]
    fn the_wait_for_a_moment_follows_rate_and_pause() {
        let start = real_now();
        let mut state = State {
            since: start,
            shown: at(5),
            rate: 60.0,
            paused: false,
        };
        let wait = |state: &State, moment| state.real_time_until(at(moment), start);
        assert_eq!(wait(&state, 125), Some(Duration::from_secs(2)));
        assert_eq!(wait(&state, 5), Some(Duration::ZERO));
        state.rate = 0.0;
        assert_eq!(wait(&state, 125), None);
        state.rate = f64::MIN_POSITIVE;
        assert_eq!(wait(&state, 125), Some(LONG_WAIT));
        state.paused = true;
        assert_eq!(wait(&state, 125), None);
        assert_eq!(wait(&state, 4), Some(Duration::ZERO));
    }

    #[tokio::test]
    async fn who_waits_for_a_moment_is_told_when_the_clock_is_put_there() {
        let clock = Clock::paused_at(at(10));
        let waiting = tokio::spawn({
            let clock = clock.clone();
            async move { clock.reaches(at(20)).await }
        });
        clock.step(Duration::from_secs(9));
        tokio::task::yield_now().await;
        assert!(!waiting.is_finished());
        clock.jump_to(at(20)).unwrap();
        waiting.await.unwrap();
    }

    #[test]
    fn a_rate_is_a_finite_number_not_below_zero() {
        for rate in [-1.0, f64::NAN, f64::INFINITY] {
            assert!(Clock::new(rate).is_err(), "{rate} was taken");
        }
        assert!(Clock::new(0.0).is_ok());
        let fast = Clock::new(f64::MAX).unwrap();
        assert!(fast.now() <= VirtualTime::new(Duration::MAX));
    }
}
