//! Who may start now: as many runs at once as the machine bears.
#![expect(clippy::disallowed_methods, reason = "it paces real work")]

use std::sync::Arc;
use std::time::{Duration, Instant};

use tokio::sync::{Mutex, OwnedSemaphorePermit, Semaphore};

use super::StrainMeter;

/// Lets runs begin one after the other, fewer and later while the machine is strained.
///
/// A loaded machine makes the whole slower that way, and no run stricter.
#[derive(Debug)]
pub(crate) struct Gate {
    places: Arc<Semaphore>,
    most: usize,
    strain: Arc<StrainMeter>,
    last_start: Mutex<Instant>,
}

/// A watcher starts with a burst of work; this far apart two bursts hardly meet (own choice).
const APART: Duration = Duration::from_millis(40);

/// Beyond this lateness the machine has enough to do (own choice: a fifth of what a watcher is
/// allowed for handling an answer).
const STRAINED: Duration = Duration::from_millis(50);

/// Over what time the lateness is looked at, and how long a start is put off for it at most: a
/// machine that others keep busy must not stop the work altogether.
const LOOK_BACK: Duration = Duration::from_secs(1);
const PATIENCE: Duration = Duration::from_secs(10);

/// The share of the processors that watchers may take together, and what a run needs besides its
/// watcher (own choice: what is left is for bursts, and for whoever else is on the machine).
const SHARE_OF_PROCESSORS: f64 = 0.6;
const OWN_SHARE: f64 = 0.005;

/// Gives how many runs of a watcher that uses such a share of a processor fit on a machine with so many
/// processors, so many runs at most.
fn fitting(most: usize, processor_share: f64, processors: u32) -> usize {
    let room = SHARE_OF_PROCESSORS * f64::from(processors) / (processor_share + OWN_SHARE);
    let fits = |runs: &usize| f64::from(u32::try_from(*runs).unwrap_or(u32::MAX)) <= room;
    (2..=most).rev().find(fits).unwrap_or(2).min(most)
}

impl Gate {
    /// Is a gate for a watcher that uses such a share of a processor.
    pub(crate) fn of(most: usize, processor_share: f64, strain: Arc<StrainMeter>) -> Self {
        let processors = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        let processors = u32::try_from(processors).unwrap_or(u32::MAX);
        Self::new(fitting(most, processor_share, processors), strain)
    }

    fn new(most: usize, strain: Arc<StrainMeter>) -> Self {
        Self {
            places: Arc::new(Semaphore::new(most)),
            most,
            strain,
            last_start: Mutex::new(Instant::now()),
        }
    }

    /// Waits for a place, and gives it; it is free again when it is dropped.
    pub(super) async fn enter(&self) -> Option<OwnedSemaphorePermit> {
        let place = Arc::clone(&self.places).acquire_owned().await.ok();
        // One at a time from here on.
        let mut last_start = self.last_start.lock().await;
        let asked = Instant::now();
        loop {
            let since = last_start.elapsed();
            if since < APART {
                tokio::time::sleep(APART - since).await;
            }
            let is_calm = self.strain.recent(LOOK_BACK) < STRAINED;
            if is_calm || self.running() <= few() || asked.elapsed() > PATIENCE {
                *last_start = Instant::now();
                return place;
            }
            tokio::time::sleep(APART).await;
        }
    }

    fn running(&self) -> usize {
        self.most - self.places.available_permits().min(self.most)
    }
}

/// So many are never too many: they mostly sleep.
fn few() -> usize {
    4 * std::thread::available_parallelism().map_or(1, std::num::NonZero::get)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hungry_watcher_gets_few_runs_and_a_modest_one_as_many_as_are_asked_for() {
        // 0.6 of two processors are 1.2: eight runs of 0.145 each with our own 0.005.
        assert_eq!(fitting(200, 0.145, 2), 8);
        assert_eq!(fitting(200, 0.001, 2), 200);
        assert_eq!(fitting(200, 5.0, 2), 2);
        assert_eq!(fitting(1, 5.0, 2), 1);
    }
}
