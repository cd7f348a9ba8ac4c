//! What the timeline does to the wire: faults and drifts in force, the host's goings and comings.

use std::sync::Arc;

use super::Tick;
use crate::drift::Drift;
use crate::fault::ScopedFault;

/// Is what a timeline can bring into force on the wire.
#[derive(Debug, Clone, PartialEq)]
pub enum Trouble {
    /// A fault of connections and exchanges.
    Fault(Arc<ScopedFault>),
    /// A change of bodies.
    Drift(Arc<Drift>),
}

impl Trouble {
    /// Tells whether both come from the same event.
    fn is_same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Fault(one), Self::Fault(other)) => Arc::ptr_eq(one, other),
            (Self::Drift(one), Self::Drift(other)) => Arc::ptr_eq(one, other),
            _ => false,
        }
    }
}

/// Is a fault or a drift that the timeline has brought into force.
#[derive(Debug, Clone, PartialEq)]
pub struct InForce {
    /// Its number, in the order in which they began, from 1.
    pub number: u64,
    /// The name by which an event can clear it.
    pub name: String,
    /// When it began.
    pub since: Tick,
    /// When it ends by itself; `None` for one that has to be cleared.
    pub until: Option<Tick>,
    /// What it is.
    pub trouble: Trouble,
}

/// Says why a host is away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Absence {
    /// Its program restarts: the system under it refuses connections.
    Restart,
    /// It has no power: nobody sends or acknowledges a packet.
    PowerLoss,
}

/// Is a change of what the timeline does to the wire.
#[derive(Debug, Clone, PartialEq)]
pub enum WireChange {
    /// A fault or a drift began.
    Began(InForce),
    /// The one of this number ended.
    Ended {
        /// The number.
        number: u64,
    },
    /// The host went away.
    HostWent(Absence),
    /// The host is there again.
    HostCame,
    /// The key is no longer good.
    KeyRevoked,
}

/// Knows what is in force, and what has changed so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Troubles {
    in_force: Vec<InForce>,
    begun: u64,
    /// Every change with its tick, in order: who looks seldom still learns of what has come and gone.
    changes: Vec<(Tick, WireChange)>,
}

impl Troubles {
    pub(super) fn in_force(&self) -> &[InForce] {
        &self.in_force
    }

    pub(super) fn changes(&self) -> &[(Tick, WireChange)] {
        &self.changes
    }

    pub(super) fn note(&mut self, now: Tick, change: WireChange) {
        self.changes.push((now, change));
    }

    /// Brings something into force. An event that happens again while what it brought is still there
    /// begins it anew.
    pub(super) fn begin(&mut self, now: Tick, name: &str, trouble: Trouble, lasts: Option<Tick>) {
        self.end(now, |known| {
            known.name == name && known.trouble.is_same(&trouble)
        });
        self.begun += 1;
        let begun = InForce {
            number: self.begun,
            name: name.to_owned(),
            since: now,
            until: lasts.map(|lasts| Tick(now.0.saturating_add(lasts.0))),
            trouble,
        };
        self.in_force.push(begun.clone());
        self.note(now, WireChange::Began(begun));
    }

    pub(super) fn clear_faults(&mut self, now: Tick, name: &str) {
        self.end(now, |known| {
            known.name == name && matches!(known.trouble, Trouble::Fault(_))
        });
    }

    pub(super) fn clear_drifts(&mut self, now: Tick, name: &str) {
        self.end(now, |known| {
            known.name == name && matches!(known.trouble, Trouble::Drift(_))
        });
    }

    /// Ends what has lasted long enough.
    pub(super) fn end_due(&mut self, now: Tick) {
        self.end(now, |known| known.until.is_some_and(|until| until <= now));
    }

    /// Gives the next tick at which something ends by itself.
    pub(super) fn next_end(&self) -> Option<Tick> {
        self.in_force.iter().filter_map(|known| known.until).min()
    }

    fn end(&mut self, now: Tick, ends: impl Fn(&InForce) -> bool) {
        let changes = &mut self.changes;
        self.in_force.retain(|known| {
            let stays = !ends(known);
            if !stays {
                let number = known.number;
                changes.push((now, WireChange::Ended { number }));
            }
            stays
        });
    }
}
