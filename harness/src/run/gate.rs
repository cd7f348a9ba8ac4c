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
const PATIENCE: Duration = Duration::from_secs(3);

impl Gate {
    pub(crate) fn new(most: usize, strain: Arc<StrainMeter>) -> Self {
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
