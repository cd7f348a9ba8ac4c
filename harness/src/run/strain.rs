//! How late this machine runs things: what a watcher must not be blamed for.
#![expect(clippy::disallowed_methods, reason = "it measures real time")]

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use rustix::time::{ClockId, clock_gettime};

/// Measures how late the machine runs, for as long as it lives.
///
/// Two things are measured over and over. A nap of the async runtime, since its lateness is that of
/// every time stamp here. And a short piece of work of a thread of its own: the real time it takes
/// beyond its processor time is what any other process had to wait for a processor, too. The second
/// is needed, because a scheduler wakes sleepers first and a nap alone would see nothing.
#[derive(Debug)]
pub struct StrainMeter {
    seen: Arc<Mutex<VecDeque<(Instant, Duration)>>>,
    naps: tokio::task::JoinHandle<()>,
}

/// Is a stretch of time whose strain is asked for at its end.
#[derive(Debug)]
pub struct Span {
    meter: Arc<StrainMeter>,
    began: Instant,
}

/// What is shorter is not kept.
const WORTH_KEEPING: Duration = Duration::from_millis(2);

/// Longer ago than any run lasts.
const KEPT_FOR: Duration = Duration::from_secs(1800);

impl StrainMeter {
    const NAP: Duration = Duration::from_millis(20);
    /// Time between two pieces of work, and how much one is: 2 % of a processor.
    const REST: Duration = Duration::from_millis(200);
    const WORK: Duration = Duration::from_millis(4);

    /// Begins to measure.
    ///
    /// # Panics
    /// Outside a Tokio runtime.
    pub fn start() -> Arc<Self> {
        let seen = Arc::new(Mutex::new(VecDeque::new()));
        let weak = Arc::downgrade(&seen);
        std::thread::spawn(move || {
            while let Some(seen) = weak.upgrade() {
                keep(&seen, waited_for_a_processor(Self::WORK));
                drop(seen);
                std::thread::sleep(Self::REST);
            }
        });
        let of_naps = Arc::clone(&seen);
        let naps = tokio::spawn(async move {
            loop {
                let before = Instant::now();
                tokio::time::sleep(Self::NAP).await;
                keep(&of_naps, before.elapsed().saturating_sub(Self::NAP));
            }
        });
        Arc::new(Self { seen, naps })
    }

    /// Begins a stretch of time.
    pub fn begin(self: &Arc<Self>) -> Span {
        Span {
            meter: Arc::clone(self),
            began: Instant::now(),
        }
    }

    /// Gives the worst of the last so long.
    pub fn recent(&self, span: Duration) -> Duration {
        let now = Instant::now();
        self.worst_since(now.checked_sub(span).unwrap_or(now))
    }

    fn worst_since(&self, began: Instant) -> Duration {
        let seen = lock(&self.seen);
        let late = seen.iter().rev().take_while(|(at, _)| *at >= began);
        late.map(|(_, late)| *late).max().unwrap_or_default()
    }
}

impl Drop for StrainMeter {
    fn drop(&mut self) {
        self.naps.abort();
    }
}

impl Span {
    /// Gives the worst delay since the stretch began.
    pub fn worst(&self) -> Duration {
        self.meter.worst_since(self.began)
    }
}

fn keep(seen: &Mutex<VecDeque<(Instant, Duration)>>, late: Duration) {
    if late < WORTH_KEEPING {
        return;
    }
    let now = Instant::now();
    let mut seen = lock(seen);
    seen.push_back((now, late));
    while seen
        .front()
        .is_some_and(|(at, _)| now.saturating_duration_since(*at) > KEPT_FOR)
    {
        seen.pop_front();
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // Nothing that holds the lock can panic half-way through a change.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Works for so much processor time, and gives the real time that passed beyond it.
fn waited_for_a_processor(work: Duration) -> Duration {
    let began = Instant::now();
    let used_before = thread_time();
    loop {
        let used = thread_time().saturating_sub(used_before);
        if used >= work {
            return began.elapsed().saturating_sub(used);
        }
    }
}

fn thread_time() -> Duration {
    let time = clock_gettime(ClockId::ThreadCPUTime);
    let seconds = u64::try_from(time.tv_sec).unwrap_or(0);
    let nanoseconds = u32::try_from(time.tv_nsec).unwrap_or(0);
    Duration::new(seconds, nanoseconds)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_stretch_has_the_worst_delay_that_was_kept_since_it_began() {
        let meter = StrainMeter::start();
        keep(&meter.seen, Duration::from_secs(9));
        let span = meter.begin();
        keep(&meter.seen, Duration::from_secs(7));
        assert_eq!(span.worst(), Duration::from_secs(7));
    }

    #[test]
    fn work_takes_its_processor_time_and_no_less_than_that_passes() {
        let before = (Instant::now(), thread_time());
        waited_for_a_processor(Duration::from_millis(5));
        assert!(thread_time() - before.1 >= Duration::from_millis(5));
        assert!(before.0.elapsed() >= Duration::from_millis(5));
    }
}
