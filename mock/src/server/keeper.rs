//! Sees to what happens by itself when its time comes.

use std::sync::Arc;
use std::time::Duration;

use super::shared::Shared;

/// How often the timeline is looked at while the clock runs.
///
/// Chosen: shorter than anybody notices, and hardly any work. It bounds how late a fault is for those
/// who do not ask for anything; who asks meets what is in force at that very moment.
const LOOK: Duration = Duration::from_millis(20);

/// Notes the beginnings and ends of faults until the host stops: those of their windows, and those on
/// the timeline.
///
/// Who decides about an exchange reads the clock itself; this is for those who wait.
pub(super) async fn run(shared: Arc<Shared>) {
    let mut changes = shared.faults.changes();
    let clock = shared.wire.clock.clone();
    let mut sets = clock.sets();
    let mut seen = clock.now();
    loop {
        changes.mark_unchanged();
        sets.mark_unchanged();
        // The clock may have been put past an edge, or past several.
        let now = clock.now();
        if shared
            .faults
            .next_edge(seen)
            .is_some_and(|edge| edge <= now)
        {
            shared.faults.edge_passed();
        }
        seen = now;
        let acts = shared.printer().acts_on_wire();
        if acts {
            shared.keep_up();
        }
        let edge = shared.faults.next_edge(seen);
        let comes = async {
            match edge {
                Some(edge) => clock.reaches(edge).await,
                None => std::future::pending().await,
            }
        };
        let look = async {
            match acts && clock.is_running() {
                true => tokio::time::sleep(LOOK).await,
                false => std::future::pending().await,
            }
        };
        tokio::select! {
            () = shared.stop.cancelled() => return,
            () = comes => {}
            // The senders live in the board and the clock that `shared` holds.
            _ = changes.changed() => {}
            _ = sets.changed() => {}
            () = look => {}
        }
    }
}
