//! How late the harness itself runs on a busy machine.
#![expect(clippy::disallowed_methods, reason = "it measures real time")]

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Measures, for as long as it lives, how late a task of the harness is woken at worst.
#[derive(Debug)]
pub(super) struct DelayMeter {
    worst_us: Arc<AtomicU64>,
    task: tokio::task::JoinHandle<()>,
}

impl DelayMeter {
    /// Short enough to meet every delay worth allowing for, long enough to cost nothing.
    const PERIOD: Duration = Duration::from_millis(20);

    pub(super) fn start() -> Self {
        let worst_us = Arc::new(AtomicU64::new(0));
        let worst = Arc::clone(&worst_us);
        let task = tokio::spawn(async move {
            loop {
                let before = Instant::now();
                tokio::time::sleep(Self::PERIOD).await;
                let late = before.elapsed().saturating_sub(Self::PERIOD);
                let late_us = u64::try_from(late.as_micros()).unwrap_or(u64::MAX);
                worst.fetch_max(late_us, Ordering::Relaxed);
            }
        });
        Self { worst_us, task }
    }

    pub(super) fn worst(&self) -> Duration {
        Duration::from_micros(self.worst_us.load(Ordering::Relaxed))
    }
}

impl Drop for DelayMeter {
    fn drop(&mut self) {
        self.task.abort();
    }
}
