//! How long something has been so.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use tokio::time::Instant;

/// Knows since when something is so, or that it is not.
///
/// Whoever waits for it to last is woken when it might have lasted long enough and not at every
/// change: what is watched here changes with every request.
#[derive(Debug)]
pub(super) struct Since {
    origin: Instant,
    /// Nanoseconds since the origin, plus one; 0 while it is not so.
    begun: AtomicU64,
}

impl Since {
    /// Begins with something that is not so.
    pub(super) fn never() -> Self {
        Self {
            origin: Instant::now(),
            begun: AtomicU64::new(0),
        }
    }

    /// Begins with something that is so from now on.
    pub(super) fn now() -> Self {
        let since = Self::never();
        since.begin();
        since
    }

    /// Notes that it is so, from now on if it was not before.
    pub(super) fn begin(&self) {
        if self.begun.load(Ordering::Acquire) != 0 {
            return;
        }
        let nanos = u64::try_from(self.origin.elapsed().as_nanos()).unwrap_or(u64::MAX - 1);
        // Another that came first was as early.
        let _ = self.begun.compare_exchange(
            0,
            nanos.saturating_add(1),
            Ordering::AcqRel,
            Ordering::Acquire,
        );
    }

    /// Notes that it is not so.
    pub(super) fn end(&self) {
        self.begun.store(0, Ordering::Release);
    }

    /// Tells whether it is so.
    pub(super) fn is_so(&self) -> bool {
        self.begun.load(Ordering::Acquire) != 0
    }

    fn begun(&self) -> Option<Instant> {
        match self.begun.load(Ordering::Acquire) {
            0 => None,
            begun => Some(self.origin + Duration::from_nanos(begun - 1)),
        }
    }

    /// Waits until it has been so for so long without a break.
    pub(super) async fn lasts(&self, allowed: Duration) {
        loop {
            // What begins after this moment cannot have lasted long enough before then.
            let at_the_earliest = self.begun().unwrap_or_else(Instant::now) + allowed;
            tokio::time::sleep_until(at_the_earliest).await;
            if self
                .begun()
                .is_some_and(|begun| begun + allowed <= Instant::now())
            {
                return;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALLOWED: Duration = Duration::from_secs(30);

    #[tokio::test(start_paused = true)]
    async fn what_lasts_is_told_at_its_moment_and_a_break_begins_anew() {
        let since = Since::never();
        let begun = Instant::now();
        let changes = async {
            for (at_s, so) in [(10, true), (35, false), (36, true), (37, true)] {
                tokio::time::sleep_until(begun + Duration::from_secs(at_s)).await;
                if so {
                    since.begin();
                } else {
                    since.end();
                }
            }
        };
        tokio::join!(changes, async {
            since.lasts(ALLOWED).await;
            assert_eq!(begun.elapsed().as_secs(), 66);
        });
    }

    #[tokio::test(start_paused = true)]
    async fn what_is_not_so_never_lasts() {
        let since = Since::now();
        since.end();
        let waited = tokio::time::timeout(100 * ALLOWED, since.lasts(ALLOWED)).await;
        assert!(waited.is_err());
    }
}
