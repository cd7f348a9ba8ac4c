//! The exchange that is under way on a connection, and the faults that have a part in it.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use http::{Method, Uri, request};

use super::ExchangeId;
use super::connection::Connection;
use super::shared::Shared;
use crate::fault::{Cut, Effects, Ending, Network, Occasion, Pace, Position, ScopedFault, Script};
use crate::sim::{Truth, VirtualTime};

/// Is the exchange that is under way, or was last.
#[derive(Debug, Default)]
pub(super) struct UnderWay(Mutex<Option<Exchange>>);

#[derive(Debug)]
struct Exchange {
    id: ExchangeId,
    method: Method,
    target: Uri,
    answers_before: u64,
    effects: Effects,
    /// The generation of the board when it was decided about.
    decided: u64,
}

impl Exchange {
    fn occasion(&self, connection: u64) -> Occasion<'_> {
        Occasion {
            connection,
            answers_before: self.answers_before,
            method: self.method.as_str(),
            path: self.target.path(),
        }
    }
}

impl UnderWay {
    fn slot(&self) -> MutexGuard<'_, Option<Exchange>> {
        // Nothing is left half changed.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Connection {
    /// Decides which faults have a part in an exchange that begins.
    pub(super) fn begin(&self, shared: &Shared, id: ExchangeId, head: &request::Parts) -> Effects {
        let decided = shared.faults.generation();
        let mut exchange = Exchange {
            id,
            method: head.method.clone(),
            target: head.uri.clone(),
            answers_before: self.answers(),
            effects: Effects::default(),
            decided,
        };
        let effects = shared.faults.of_exchange(&exchange.occasion(self.id.0));
        shared.tell_met(self.id, Some(id), &effects.met);
        exchange.effects = effects.clone();
        *self.under_way.slot() = Some(exchange);
        effects
    }

    /// Waits until what a client has sent can have reached the host, and gives the moment and its
    /// truth; `None` if nobody is there, or nobody who knows of this connection.
    ///
    /// The boards have followed the timeline up to that moment then.
    pub(super) async fn reaches_host(&self, shared: &Shared) -> Option<(VirtualTime, Arc<Truth>)> {
        let mut changes = shared.faults.changes();
        loop {
            changes.mark_unchanged();
            let now = shared.wire.clock.now();
            let host = shared.printer().truth(now);
            match shared.faults.network(self.id.0, self.opened) {
                Network::Up => {
                    let is_there =
                        host.printer.host_answers && !shared.faults.is_closed(self.opened);
                    return is_there.then_some((now, host));
                }
                Network::Lost => return None,
                // The sender lives in the board that `shared` holds.
                Network::Unreachable | Network::HalfOpen => {
                    let _ = changes.changed().await;
                }
            }
        }
    }

    /// Lets the faults that have come into force since then have their part in an answer without an
    /// end, and those that are over have it no longer; tells how it ends at once, if it does.
    pub(super) fn meet(&self, shared: &Shared) -> Option<Ending> {
        let mut slot = self.under_way.slot();
        let exchange = slot.as_mut()?;
        let script = self.decide_anew(shared, exchange);
        if exchange.effects.without_notify {
            self.control.close_without_notify();
        }
        let script = script?;
        let ending = self.control.ends_now(&script);
        self.control.answer_changes(script);
        ending
    }

    /// As [`Connection::meet`] for an answer of which nothing is out yet; tells whether it is cut
    /// before its first byte, so that nothing is left to wait for.
    pub(super) fn meet_before(&self, shared: &Shared) -> bool {
        let mut slot = self.under_way.slot();
        let Some(exchange) = slot.as_mut() else {
            return false;
        };
        self.decide_anew(shared, exchange);
        matches!(
            exchange.effects.script.cut,
            Some(Cut::At(Position::Start, _))
        )
    }

    /// Decides anew and tells of what is new; gives the script if it has changed.
    fn decide_anew(&self, shared: &Shared, exchange: &mut Exchange) -> Option<Script> {
        let decided = shared.faults.generation();
        let still = shared.faults.still(&exchange.effects);
        let known = still.met.len();
        let occasion = exchange.occasion(self.id.0);
        let effects = shared
            .faults
            .of_exchange_under_way(&occasion, still, exchange.decided);
        exchange.decided = decided;
        shared.tell_met(self.id, Some(exchange.id), &effects.met[known..]);
        let changed = effects.script != exchange.effects.script;
        exchange.effects = effects;
        changed.then(|| exchange.effects.script.clone())
    }

    /// Gives what the faults do to the exchange under way.
    pub(super) fn effects(&self) -> Option<Effects> {
        let slot = self.under_way.slot();
        slot.as_ref().map(|exchange| exchange.effects.clone())
    }

    /// Gives the fault that says what the exchange under way shows, with its number on the board.
    pub(super) fn shown_by(&self) -> Option<(u64, Arc<ScopedFault>)> {
        let slot = self.under_way.slot();
        slot.as_ref()?.effects.answer.clone()
    }

    /// Tells whether a fault says that the key of the exchange under way is no longer good.
    pub(super) fn key_is_revoked(&self) -> bool {
        let slot = self.under_way.slot();
        slot.as_ref()
            .is_some_and(|exchange| exchange.effects.key_revoked)
    }

    /// Tells whether a fault holds the bytes of the answer under way up, so that the client is not to
    /// blame for what it does not get.
    pub(super) fn is_held_up(&self) -> bool {
        if self.control.is_stalled() {
            // Also when the fault that has done it is over.
            return true;
        }
        let slot = self.under_way.slot();
        slot.as_ref().is_some_and(|exchange| {
            let script = &exchange.effects.script;
            let stalls = matches!(script.cut, Some(Cut::At(_, Ending::Stall)));
            stalls || script.pace != Pace::default()
        })
    }

    /// Does something with the exchange under way as the faults see it.
    pub(super) fn with_occasion<T>(&self, ask: impl FnOnce(&Occasion<'_>) -> T) -> Option<T> {
        let slot = self.under_way.slot();
        let exchange = slot.as_ref()?;
        Some(ask(&exchange.occasion(self.id.0)))
    }
}
