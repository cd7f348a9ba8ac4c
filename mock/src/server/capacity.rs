//! How many connections there are at once.

use std::sync::Arc;

use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// Knows how many more connections may be accepted.
#[derive(Debug)]
pub(super) struct Capacity(Arc<Semaphore>);

/// Is the right to one connection; given back when dropped.
#[derive(Debug)]
pub(super) struct Share(#[expect(dead_code, reason = "held for its drop")] OwnedSemaphorePermit);

impl Capacity {
    pub(super) fn new(most: usize) -> Self {
        Self(Arc::new(Semaphore::new(most)))
    }

    /// Waits until there may be one connection more.
    pub(super) async fn share(&self) -> Share {
        let permit = Arc::clone(&self.0).acquire_owned().await;
        Share(permit.expect("nobody closes it"))
    }
}
