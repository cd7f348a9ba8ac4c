//! The faults in force.

use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use tokio::sync::watch;

use super::effects::{ConnectionEffects, Effects, MessageEffects, StreamEffects};
use super::severed::Severed;
use super::{Fault, Occasion, ScopedFault, Unit};
use crate::sim::VirtualTime;

/// Says what happened on a board.
#[derive(Debug, Clone, PartialEq)]
pub enum FaultChange {
    /// A fault was raised. It is in force from now on, or after the time its scope says.
    Raised(Arc<ScopedFault>),
    /// A fault was taken back.
    Cleared(Arc<ScopedFault>),
}

/// Says how the network is for one connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Network {
    /// Well.
    Up,
    /// Nothing comes or goes for now.
    Unreachable,
    /// The connection is dead and its client is not told.
    HalfOpen,
    /// The connection has died, and the host that is there again knows nothing of it.
    Lost,
}

/// Is a fault on a board.
#[derive(Debug, Clone, PartialEq)]
pub struct RaisedFault {
    /// Its number on this board.
    pub id: u64,
    /// What it is.
    pub fault: Arc<ScopedFault>,
    /// When it was raised.
    pub since: VirtualTime,
    /// Whether the time is within the window of its scope.
    pub in_force: bool,
    /// How often it has happened.
    pub happened: u64,
}

type Hook = Box<dyn Fn(FaultChange) + Send + Sync>;
type Now = Box<dyn Fn() -> VirtualTime + Send + Sync>;

/// Holds the faults in force; a clone is the same board.
#[derive(Clone)]
pub struct FaultBoard(Arc<Inner>);

struct Inner {
    raised: Mutex<Vec<Entry>>,
    severed: Mutex<Severed>,
    hook: Hook,
    now: Now,
    /// Counts the changes of the board.
    generation: watch::Sender<u64>,
    /// The generation that the listener has carried out; `None` while there is no listener.
    carried_out: watch::Sender<Option<u64>>,
}

#[derive(Debug)]
struct Entry {
    id: u64,
    scoped: Arc<ScopedFault>,
    since: VirtualTime,
    /// Whether anybody is told of it. What the printer does by itself, such as a restart, is carried
    /// out like a fault and is none.
    is_told: bool,
    /// The generation with which it came into force; `None` before its window.
    began: Option<u64>,
    /// How many were in scope so far.
    seen: u64,
    happened: u64,
}

impl Entry {
    fn begins(&self) -> VirtualTime {
        self.since + self.scoped.scope.after.0
    }

    fn ends(&self) -> Option<VirtualTime> {
        let lasts = self.scoped.scope.lasts?;
        Some(self.begins() + lasts.0)
    }

    fn is_in_force(&self, now: VirtualTime) -> bool {
        self.begins() <= now && self.ends().is_none_or(|end| now < end)
    }

    /// Counts one in scope and tells whether the fault happens to it.
    fn takes(&mut self) -> bool {
        let scope = &self.scoped.scope;
        let nth = self.seen;
        self.seen += 1;
        let happens = nth >= scope.skip
            && scope.times.is_none_or(|times| self.happened < times)
            && scope.draws(nth);
        self.happened += u64::from(happens);
        happens
    }
}

impl Default for FaultBoard {
    fn default() -> Self {
        Self::new(|| VirtualTime::ZERO, |_| {})
    }
}

impl FaultBoard {
    /// Makes an empty board that reads a clock for the windows of its faults, and tells somebody of
    /// every change before it takes effect.
    ///
    /// The hook must not raise or clear faults.
    pub fn new(
        now: impl Fn() -> VirtualTime + Send + Sync + 'static,
        hook: impl Fn(FaultChange) + Send + Sync + 'static,
    ) -> Self {
        Self(Arc::new(Inner {
            raised: Mutex::default(),
            severed: Mutex::default(),
            hook: Box::new(hook),
            now: Box::new(now),
            generation: watch::Sender::new(0),
            carried_out: watch::Sender::new(None),
        }))
    }

    /// Brings a fault into force until the guard is dropped.
    ///
    /// It is in force when this returns, except that the listener is closed or deaf only once
    /// [`FaultBoard::settled`] has come back.
    #[must_use = "the fault is taken back when the guard is dropped"]
    pub fn raise(&self, fault: impl Into<ScopedFault>) -> FaultGuard {
        let now = (self.0.now)();
        self.enter(Arc::new(fault.into()), now, true)
    }

    /// As [`FaultBoard::raise`], of a fault that began at a moment that may have passed.
    pub(crate) fn raise_since(&self, since: VirtualTime, scoped: Arc<ScopedFault>) -> FaultGuard {
        self.enter(scoped, since, true)
    }

    /// As [`FaultBoard::raise`], without telling anybody: something that is carried out like a fault.
    pub(crate) fn raise_untold(&self, fault: Fault) -> FaultGuard {
        let now = (self.0.now)();
        self.enter(Arc::new(fault.into()), now, false)
    }

    fn enter(&self, scoped: Arc<ScopedFault>, since: VirtualTime, is_told: bool) -> FaultGuard {
        let mut raised = self.raised_entries();
        if is_told {
            (self.0.hook)(FaultChange::Raised(Arc::clone(&scoped)));
        }
        let id = self.count();
        let mut entry = Entry {
            id,
            scoped,
            since,
            is_told,
            began: None,
            seen: 0,
            happened: 0,
        };
        if entry.is_in_force((self.0.now)().max(since)) {
            entry.began = Some(id);
            self.begins(&entry, id);
        }
        raised.push(entry);
        FaultGuard {
            board: self.clone(),
            id,
        }
    }

    /// Notes which connections do not live through a fault that comes into force.
    fn begins(&self, entry: &Entry, generation: u64) {
        match entry.scoped.fault {
            Fault::Refuse => self.severed().close(generation),
            Fault::HalfOpen => self
                .severed()
                .kill(generation, entry.scoped.scope.connection),
            _ => {}
        }
    }

    /// Gives the faults that are raised, first raised first.
    pub fn raised(&self) -> Vec<RaisedFault> {
        let now = (self.0.now)();
        let entries = self.raised_entries();
        let told = entries.iter().filter(|entry| entry.is_told);
        let raised = told.map(|entry| RaisedFault {
            id: entry.id,
            fault: Arc::clone(&entry.scoped),
            since: entry.since,
            in_force: entry.is_in_force(now),
            happened: entry.happened,
        });
        raised.collect()
    }

    /// Tells whether a fault is raised and within its window.
    pub fn is_in_force(&self, id: u64) -> bool {
        self.in_force(|entry| (entry.id == id).then_some(()))
            .is_some()
    }

    /// Waits until every change made so far is carried out: the listener really closed, or open
    /// again. Comes back at once when no host serves this board.
    pub async fn settled(&self) {
        let wanted = self.generation();
        let mut carried_out = self.0.carried_out.subscribe();
        // The sender lives as long as the board, so this cannot fail.
        let _ = carried_out
            .wait_for(|done| done.is_none_or(|done| done >= wanted))
            .await;
    }

    /// Tells whether nothing should listen.
    pub fn refuses(&self) -> bool {
        self.in_force(|entry| matches!(entry.scoped.fault, Fault::Refuse).then_some(()))
            .is_some()
    }

    /// Tells whether no packet should come or go.
    pub fn is_unreachable(&self) -> bool {
        self.in_force(|entry| matches!(entry.scoped.fault, Fault::Unreachable).then_some(()))
            .is_some()
    }

    /// Tells how the network is for a connection that was opened when the board had had so many
    /// changes.
    pub fn network(&self, connection: u64, opened: u64) -> Network {
        if self.is_unreachable() {
            return Network::Unreachable;
        }
        let dead = self.in_force(|entry| {
            let meets = matches!(entry.scoped.fault, Fault::HalfOpen)
                && entry.began.is_some_and(|began| began > opened)
                && on(connection, entry);
            meets.then_some(Network::HalfOpen)
        });
        match dead {
            Some(dead) => dead,
            None if self.severed().is_dead(connection, opened) => Network::Lost,
            None => Network::Up,
        }
    }

    /// Tells whether a connection was closed that was opened when the board had had so many changes.
    pub fn is_closed(&self, opened: u64) -> bool {
        self.closed() > opened
    }

    /// Gives the change of the board with which open connections were closed last; 0 if never.
    pub(crate) fn closed(&self) -> u64 {
        self.severed().closed()
    }

    /// Tells after how long idle connections are closed.
    pub fn close_idle(&self, connection: u64) -> Option<Duration> {
        self.in_force(|entry| match entry.scoped.fault {
            Fault::CloseIdle { after } if on(connection, entry) => Some(after.0),
            _ => None,
        })
    }

    /// Decides about a new connection.
    pub fn of_connection(&self) -> ConnectionEffects {
        let now = (self.0.now)();
        let mut effects = ConnectionEffects::default();
        for entry in &mut *self.raised_entries() {
            if entry.is_in_force(now) && effects.has_room_for(&entry.scoped.fault) && entry.takes()
            {
                effects.add(entry.id, &entry.scoped);
            }
        }
        effects
    }

    /// Decides about an exchange.
    pub fn of_exchange(&self, occasion: &Occasion<'_>) -> Effects {
        self.decide(occasion, Effects::default(), None)
    }

    /// Decides anew about an exchange that is under way, of which was decided when the board had had
    /// so many changes: what has come into force since then is added, as far as it can still happen
    /// to an answer that has begun.
    pub fn of_exchange_under_way(
        &self,
        occasion: &Occasion<'_>,
        before: Effects,
        decided: u64,
    ) -> Effects {
        self.decide(occasion, before, Some(decided))
    }

    /// Gives what is left of effects decided earlier: the parts of the faults that are in force still.
    pub fn still(&self, before: &Effects) -> Effects {
        let now = (self.0.now)();
        let entries = self.raised_entries();
        let is_in_force = |id| {
            let mut in_force = entries.iter().filter(|entry| entry.is_in_force(now));
            in_force.any(|entry| entry.id == id)
        };
        before.kept(is_in_force)
    }

    fn decide(
        &self,
        occasion: &Occasion<'_>,
        mut effects: Effects,
        decided: Option<u64>,
    ) -> Effects {
        let mut entries = self.raised_entries();
        if entries.is_empty() {
            return effects;
        }
        let now = (self.0.now)();
        for entry in &mut *entries {
            // The windows are looked at here and not when they were last noticed.
            let can_happen = decided.is_none_or(|decided| {
                entry.began.is_none_or(|began| began > decided)
                    && entry.scoped.fault.meets_under_way()
            });
            if can_happen
                && entry.is_in_force(now)
                && effects.has_room_for(&entry.scoped.fault, occasion)
                && entry.scoped.scope.fits(occasion)
                && entry.takes()
            {
                effects.add(entry.id, &entry.scoped, entry.seen);
            }
        }
        effects
    }

    /// Tells what is wrong with a push stream now.
    pub fn of_stream(&self, occasion: &Occasion<'_>) -> StreamEffects {
        let now = (self.0.now)();
        let mut effects = StreamEffects::default();
        for entry in &*self.raised_entries() {
            if entry.is_in_force(now)
                && entry.scoped.fault.unit() == Unit::Stream
                && entry.scoped.scope.fits(occasion)
            {
                effects.add(&entry.scoped.fault);
            }
        }
        effects
    }

    /// Decides about a message of a push stream; with whether there is an id before it that could be
    /// repeated.
    pub fn of_message(&self, occasion: &Occasion<'_>, has_id_before: bool) -> MessageEffects {
        let now = (self.0.now)();
        let mut effects = MessageEffects::default();
        for entry in &mut *self.raised_entries() {
            if entry.is_in_force(now)
                && effects.has_room_for(&entry.scoped.fault, has_id_before)
                && entry.scoped.scope.fits(occasion)
                && entry.takes()
            {
                effects.add(&entry.scoped);
            }
        }
        effects
    }

    /// Counts the changes of the board.
    pub fn generation(&self) -> u64 {
        *self.0.generation.borrow()
    }

    /// Tells of changes, the beginnings and ends of windows among them; the number counts them.
    pub(crate) fn changes(&self) -> watch::Receiver<u64> {
        self.0.generation.subscribe()
    }

    /// Gives the next beginning or end of a window after a moment.
    pub(crate) fn next_edge(&self, now: VirtualTime) -> Option<VirtualTime> {
        let entries = self.raised_entries();
        let edges = entries
            .iter()
            .flat_map(|entry| [Some(entry.begins()), entry.ends()])
            .flatten();
        edges.filter(|edge| *edge > now).min()
    }

    /// Notes that the time has come to the beginning or the end of a window.
    pub(crate) fn edge_passed(&self) {
        let mut raised = self.raised_entries();
        let now = (self.0.now)();
        let generation = self.count();
        for entry in &mut *raised {
            // Also if its window is over by now: nobody who was there before lived through it.
            if entry.began.is_none() && entry.begins() <= now {
                entry.began = Some(generation);
                self.begins(entry, generation);
            }
        }
    }

    /// Wakes whoever waits for a change, after one that is not on the board.
    pub(crate) fn touch(&self) {
        let _raised = self.raised_entries();
        self.count();
    }

    /// Notes what the listener has carried out; `None` when it has ended.
    pub(crate) fn carried_out(&self, generation: Option<u64>) {
        self.0.carried_out.send_replace(generation);
    }

    fn in_force<T>(&self, mut find: impl FnMut(&Entry) -> Option<T>) -> Option<T> {
        let entries = self.raised_entries();
        if entries.is_empty() {
            return None;
        }
        let now = (self.0.now)();
        let mut in_force = entries.iter().filter(|entry| entry.is_in_force(now));
        in_force.find_map(&mut find)
    }

    fn clear(&self, id: u64) {
        let mut raised = self.raised_entries();
        let Some(index) = raised.iter().position(|entry| entry.id == id) else {
            return;
        };
        if raised[index].is_told {
            (self.0.hook)(FaultChange::Cleared(Arc::clone(&raised[index].scoped)));
        }
        raised.remove(index);
        self.count();
    }

    /// Counts a change and gives its number. Called with the list locked, so that whoever is woken
    /// sees the list as it is after the change.
    fn count(&self) -> u64 {
        let mut number = 0;
        self.0.generation.send_modify(|generation| {
            *generation += 1;
            number = *generation;
        });
        number
    }

    fn severed(&self) -> MutexGuard<'_, Severed> {
        // Nothing is left half changed.
        self.0
            .severed
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }

    fn raised_entries(&self) -> MutexGuard<'_, Vec<Entry>> {
        // Nothing here leaves the list half changed, also when a hook panics.
        self.0.raised.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn on(connection: u64, entry: &Entry) -> bool {
    let wanted = entry.scoped.scope.connection;
    wanted.is_none_or(|wanted| wanted == connection)
}

impl fmt::Debug for FaultBoard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let raised = &*self.raised_entries();
        f.debug_tuple("FaultBoard").field(raised).finish()
    }
}

/// Keeps a fault in force; dropping it takes the fault back.
#[derive(Debug)]
#[must_use = "the fault is taken back when the guard is dropped"]
pub struct FaultGuard {
    board: FaultBoard,
    id: u64,
}

impl FaultGuard {
    /// Gives the number of the fault on its board.
    pub fn id(&self) -> u64 {
        self.id
    }

    /// Waits until the fault is carried out.
    pub async fn settled(&self) {
        self.board.settled().await;
    }

    /// Takes the fault back and waits until that is carried out.
    pub async fn clear(self) {
        let board = self.board.clone();
        drop(self);
        board.settled().await;
    }
}

impl Drop for FaultGuard {
    fn drop(&mut self) {
        self.board.clear(self.id);
    }
}
