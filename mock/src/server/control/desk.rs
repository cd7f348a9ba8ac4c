//! Where changes are made.

use std::collections::{BTreeMap, HashMap, VecDeque};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use serde_json::{Map, Value};

use super::book::Book;
use super::change_log::ChangeLog;
use super::{ControlError, ShownDrift, ShownFault};
use crate::control::{Change, Entry};
use crate::drift::{Drift, DriftGuard};
use crate::fault::{FaultGuard, ScopedFault};
use crate::scenario::Action;
use crate::server::shared::Shared;
use crate::sim::{Phase, VirtualTime};

/// How many faults, and how many drifts, can be raised at once.
///
/// Chosen: each of them is looked at for every answer.
const MOST_RAISED: usize = 256;

/// Makes changes, one after the other, and takes them down.
#[derive(Debug)]
pub(in crate::server) struct Desk {
    pub(super) log: ChangeLog,
    pub(super) book: Arc<Book>,
    state: Mutex<State>,
    /// Whether a log that is replayed has anything left for the boards.
    replays: AtomicBool,
}

/// Is what was raised here, by the number of the log's entry.
#[derive(Debug, Default)]
struct State {
    faults: BTreeMap<u64, FaultGuard>,
    drifts: BTreeMap<u64, RaisedDrift>,
    replayed: VecDeque<Entry>,
    /// The numbers that entries of the replayed log have in this one.
    numbers: HashMap<u64, u64>,
}

#[derive(Debug)]
struct RaisedDrift {
    drift: Drift,
    _guard: DriftGuard,
}

impl Desk {
    pub(in crate::server) fn new(
        log: ChangeLog,
        book: Arc<Book>,
        replayed: VecDeque<Entry>,
    ) -> Self {
        let state = State {
            replayed,
            ..State::default()
        };
        Self {
            log,
            book,
            replays: AtomicBool::new(!state.replayed.is_empty()),
            state: Mutex::new(state),
        }
    }

    /// Makes changes of the clock one after the other.
    pub(super) fn in_turn<T>(&self, change: impl FnOnce() -> T) -> T {
        let _state = self.state();
        change()
    }

    pub(super) fn raise_fault(
        &self,
        shared: &Shared,
        fault: ScopedFault,
    ) -> Result<u64, ControlError> {
        check(shared, &fault)?;
        let mut state = self.state();
        has_room("fault", state.faults.len())?;
        self.log.ready()?;
        let guard = shared.faults.raise(fault.clone());
        // The board's own moment, which its windows are reckoned from.
        let raised = shared.faults.raised();
        let since = raised.iter().find(|raised| raised.id == guard.id());
        let since = since.map_or_else(|| shared.wire.clock.now(), |raised| raised.since);
        let number = self.log.append(since, Change::FaultRaised(fault));
        state.faults.insert(number, guard);
        Ok(number)
    }

    pub(super) fn clear_fault(&self, shared: &Shared, id: u64) -> Result<(), ControlError> {
        let mut state = self.state();
        if !state.faults.contains_key(&id) {
            return Err(ControlError::NotRaised { what: "fault", id });
        }
        self.log.ready()?;
        let at = shared.wire.clock.now();
        state.faults.remove(&id);
        self.log.append(at, Change::FaultCleared(id));
        Ok(())
    }

    pub(super) fn clear_faults(&self, shared: &Shared) -> Result<(), ControlError> {
        let ids: Vec<u64> = self.state().faults.keys().copied().collect();
        // One that somebody else clears meanwhile is cleared.
        ids.into_iter()
            .map(|id| self.clear_fault(shared, id))
            .find(|done| matches!(done, Err(ControlError::Log { .. })))
            .unwrap_or(Ok(()))
    }

    pub(super) fn faults(&self, shared: &Shared) -> Vec<ShownFault> {
        let state = self.state();
        let number = |id| {
            let mut ours = state.faults.iter();
            ours.find(|(_, guard)| guard.id() == id)
                .map(|(number, _)| *number)
        };
        let raised = shared.faults.raised().into_iter();
        raised
            .map(|raised| ShownFault {
                id: number(raised.id),
                says: raised.fault.to_string(),
                fault: (*raised.fault).clone(),
                since: raised.since,
                in_force: raised.in_force,
                happened: raised.happened,
            })
            .collect()
    }

    pub(super) fn raise_drift(&self, shared: &Shared, drift: Drift) -> Result<u64, ControlError> {
        let mut state = self.state();
        has_room("drift", state.drifts.len())?;
        self.log.ready()?;
        let (at, raised) = raise_drift(shared, drift.clone());
        let number = self.log.append(at, Change::DriftRaised(drift));
        state.drifts.insert(number, raised);
        Ok(number)
    }

    pub(super) fn clear_drift(&self, shared: &Shared, id: u64) -> Result<(), ControlError> {
        let mut state = self.state();
        if !state.drifts.contains_key(&id) {
            return Err(ControlError::NotRaised { what: "drift", id });
        }
        self.log.ready()?;
        let printer = shared.printer_as_it_is();
        let at = shared.wire.clock.now();
        state.drifts.remove(&id);
        drop(printer);
        self.log.append(at, Change::DriftCleared(id));
        Ok(())
    }

    pub(super) fn clear_drifts(&self, shared: &Shared) -> Result<(), ControlError> {
        let ids: Vec<u64> = self.state().drifts.keys().copied().collect();
        ids.into_iter()
            .map(|id| self.clear_drift(shared, id))
            .find(|done| matches!(done, Err(ControlError::Log { .. })))
            .unwrap_or(Ok(()))
    }

    pub(super) fn drifts(&self, shared: &Shared) -> Vec<ShownDrift> {
        let state = self.state();
        // Two may be the same; both lists are in the order in which they were raised.
        let mut ours: Vec<(u64, &Drift)> = state
            .drifts
            .iter()
            .map(|(number, raised)| (*number, &raised.drift))
            .collect();
        let mut number = |drift: &Arc<Drift>| {
            let index = ours.iter().position(|(_, known)| *known == &**drift)?;
            Some(ours.remove(index).0)
        };
        let (_, raised) = shared.drifts.raised();
        let shown = raised.iter().map(|drift| ShownDrift {
            id: number(drift),
            says: drift.explain(),
            drift: (**drift).clone(),
        });
        shown.collect()
    }

    /// Lets something happen to the printer now.
    pub(super) fn issue(
        &self,
        shared: &Shared,
        action: &Action,
        keys: Map<String, Value>,
    ) -> Result<(u64, VirtualTime, Phase), ControlError> {
        if let Action::HostUpdated {
            version: Some(version),
            ..
        } = action
        {
            shared.dialects.check_version(version)?;
        }
        let _state = self.state();
        self.log.ready()?;
        let mut printer = shared.printer_as_it_is();
        let now = shared.wire.clock.now();
        let (at, phase) = printer.issue(now, action);
        let number = self.log.append(at, Change::Event(keys));
        Ok((number, at, phase))
    }

    /// Gives the moment of the next change that the replayed log has for the boards.
    pub(super) fn next_replayed(&self) -> Option<VirtualTime> {
        self.state().replayed.front().map(|entry| entry.at)
    }

    /// Makes the changes of the boards that a replayed log has up to now.
    pub(in crate::server) fn catch_up(&self, shared: &Shared) {
        if !self.replays.load(Ordering::Acquire) {
            return;
        }
        let mut state = self.state();
        let now = shared.wire.clock.now();
        while let Some(entry) = state.replayed.pop_front_if(|entry| entry.at <= now) {
            self.replay(shared, &mut state, entry);
        }
        self.replays
            .store(!state.replayed.is_empty(), Ordering::Release);
    }

    fn replay(&self, shared: &Shared, state: &mut State, entry: Entry) {
        let Entry { number, at, change } = entry;
        match change {
            Change::FaultRaised(fault) => {
                let guard = shared.faults.raise_since(at, Arc::new(fault.clone()));
                let new = self.log.append(at, Change::FaultRaised(fault));
                state.faults.insert(new, guard);
                state.numbers.insert(number, new);
            }
            Change::DriftRaised(drift) => {
                let (_, raised) = raise_drift(shared, drift.clone());
                let new = self.log.append(at, Change::DriftRaised(drift));
                state.drifts.insert(new, raised);
                state.numbers.insert(number, new);
            }
            Change::FaultCleared(raised) => {
                // Somebody may have cleared it already.
                if let Some(id) = state.numbers.remove(&raised)
                    && state.faults.remove(&id).is_some()
                {
                    self.log.append(at, Change::FaultCleared(id));
                }
            }
            Change::DriftCleared(raised) => {
                if let Some(id) = state.numbers.remove(&raised)
                    && state.drifts.remove(&id).is_some()
                {
                    self.log.append(at, Change::DriftCleared(id));
                }
            }
            // The printer sees to these itself.
            Change::Clock(_) | Change::Event(_) | Change::Command(_) => {}
        }
    }

    /// Takes back whatever was raised here. Not a change of the run: the run is over.
    pub(in crate::server) fn take_back_all(&self) {
        let state = std::mem::take(&mut *self.state());
        self.replays.store(false, Ordering::Release);
        drop(state);
    }

    fn state(&self) -> MutexGuard<'_, State> {
        // Nothing is left half changed.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Raises a drift between two answers, and gives the moment.
fn raise_drift(shared: &Shared, drift: Drift) -> (VirtualTime, RaisedDrift) {
    let printer = shared.printer_as_it_is();
    let at = shared.wire.clock.now();
    let raised = RaisedDrift {
        drift: drift.clone(),
        _guard: shared.drifts.raise(drift),
    };
    drop(printer);
    (at, raised)
}

/// Checks that a host can have a fault.
pub(super) fn check(shared: &Shared, fault: &ScopedFault) -> Result<(), ControlError> {
    fault.check()?;
    if fault.fault.needs_tls() && shared.tls.is_none() {
        let fault = fault.fault.name();
        return Err(ControlError::NeedsTls { fault });
    }
    Ok(())
}

fn has_room(what: &'static str, raised: usize) -> Result<(), ControlError> {
    match raised < MOST_RAISED {
        true => Ok(()),
        false => Err(ControlError::TooMany {
            what,
            most: MOST_RAISED,
        }),
    }
}
