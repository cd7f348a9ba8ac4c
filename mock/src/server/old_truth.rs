//! Old truths that faults show again.

use std::collections::HashMap;
use std::sync::Arc;

use crate::fault::Fault;
use crate::sim::Truth;

/// Remembers what each fault shows again, by its number on the board.
#[derive(Debug, Default)]
pub(super) struct OldTruths(HashMap<u64, Shown>);

#[derive(Debug)]
enum Shown {
    Frozen(Arc<Truth>),
    /// The last truth, the one before it, and how many there were.
    InTurn(Arc<Truth>, Arc<Truth>, u64),
}

/// How many faults are remembered. Those that are taken back are not told here.
const KEPT: usize = 64;

impl OldTruths {
    /// Gives what a fault shows where this is true.
    pub(super) fn instead(&mut self, id: u64, fault: &Fault, now: &Arc<Truth>) -> Arc<Truth> {
        if self.0.len() >= KEPT
            && !self.0.contains_key(&id)
            && let Some(oldest) = self.0.keys().min().copied()
        {
            self.0.remove(&oldest);
        }
        match fault {
            Fault::Frozen => {
                let shown = self
                    .0
                    .entry(id)
                    .or_insert_with(|| Shown::Frozen(Arc::clone(now)));
                match shown {
                    Shown::Frozen(truth) => Arc::clone(truth),
                    Shown::InTurn(..) => Arc::clone(now),
                }
            }
            Fault::OutOfOrder => {
                let (before, older, count) = match self.0.remove(&id) {
                    Some(Shown::InTurn(last, before, count)) => (last, before, count + 1),
                    _ => (Arc::clone(now), Arc::clone(now), 1),
                };
                let in_turn = Shown::InTurn(Arc::clone(now), before, count);
                self.0.insert(id, in_turn);
                // The second one before this is older than the one before it, which was shown.
                if count % 2 == 0 {
                    older
                } else {
                    Arc::clone(now)
                }
            }
            _ => Arc::clone(now),
        }
    }
}
