//! Sees to what happens by itself when its time comes.

use std::sync::Arc;

use super::shared::Shared;

/// Notes the beginnings and ends of the faults' windows until the host stops.
///
/// Who decides about an exchange reads the clock itself; this is for those who wait.
pub(super) async fn run(shared: Arc<Shared>) {
    let mut changes = shared.faults.changes();
    let clock = shared.wire.clock.clone();
    loop {
        changes.mark_unchanged();
        let edge = shared.faults.next_edge(clock.now());
        let comes = async {
            match edge {
                Some(edge) => clock.reaches(edge).await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            () = shared.stop.cancelled() => return,
            () = comes => shared.faults.edge_passed(),
            // The sender lives in the board that `shared` holds.
            _ = changes.changed() => {}
        }
    }
}
