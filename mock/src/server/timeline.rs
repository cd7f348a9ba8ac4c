//! The boards follow the timeline.

use std::collections::HashMap;

use crate::drift::{DriftBoard, DriftGuard};
use crate::fault::{Fault, FaultBoard, FaultGuard};
use crate::sim::{Absence, Simulation, Tick, Trouble, WireChange};

/// Raises on the boards what the timeline brings into force, and takes it back.
///
/// Whoever wants a truth lets the boards follow up to its moment first, so that what a request meets
/// depends on virtual time alone and not on who has looked before. What has come and gone between two
/// looks is raised and taken back in its order.
#[derive(Debug)]
pub(super) struct OnTheWire {
    faults: FaultBoard,
    drifts: DriftBoard,
    /// How many changes are carried out.
    carried_out: usize,
    raised: HashMap<u64, Guard>,
    /// What a host that is away is like.
    away: Vec<FaultGuard>,
}

/// Keeps something in force.
#[derive(Debug)]
#[expect(dead_code, reason = "guards are kept to be dropped")]
enum Guard {
    Fault(FaultGuard),
    Drift(DriftGuard),
}

impl OnTheWire {
    pub(super) fn new(faults: FaultBoard, drifts: DriftBoard) -> Self {
        Self {
            faults,
            drifts,
            carried_out: 0,
            raised: HashMap::new(),
            away: Vec::new(),
        }
    }

    /// Carries out what the timeline has changed since the last time.
    pub(super) fn follow(&mut self, simulation: &Simulation) {
        let changes = simulation.wire_changes();
        for (at, change) in changes.iter().skip(self.carried_out) {
            self.carry_out(*at, change);
        }
        self.carried_out = changes.len();
    }

    fn carry_out(&mut self, at: Tick, change: &WireChange) {
        match change {
            WireChange::Began(begun) => {
                let guard = match &begun.trouble {
                    Trouble::Fault(fault) => {
                        Guard::Fault(self.faults.raise_since(at.start(), fault.clone()))
                    }
                    Trouble::Drift(drift) => {
                        Guard::Drift(self.drifts.raise(drift.as_ref().clone()))
                    }
                };
                self.raised.insert(begun.number, guard);
            }
            WireChange::Ended { number } => drop(self.raised.remove(number)),
            WireChange::HostWent(absence) => {
                let like: &[Fault] = match absence {
                    Absence::Restart => &[Fault::Refuse],
                    // Who was connected before is not told, also afterwards.
                    Absence::PowerLoss => &[Fault::HalfOpen, Fault::Unreachable],
                };
                let went = like.iter().cloned();
                self.away = went.map(|fault| self.faults.raise_untold(fault)).collect();
            }
            WireChange::HostCame => self.away.clear(),
            WireChange::KeyRevoked => self.faults.touch(),
        }
    }
}
