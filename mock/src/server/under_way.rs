//! The exchange that is under way on a connection, and the faults that have a part in it.

use std::sync::{Mutex, MutexGuard, PoisonError};

use http::{Method, Uri, request};

use super::ExchangeId;
use super::connection::Connection;
use super::shared::Shared;
use crate::fault::{Effects, Ending, Occasion, ScopedFault};

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

    /// Lets the faults that have come into force since then have their part in an answer without an
    /// end, and tells how it ends at once, if it does.
    pub(super) fn meet(&self, shared: &Shared) -> Option<Ending> {
        let mut slot = self.under_way.slot();
        let exchange = slot.as_mut()?;
        let decided = shared.faults.generation();
        let known = exchange.effects.met.len();
        let effects = shared.faults.of_exchange_under_way(
            &exchange.occasion(self.id.0),
            exchange.effects.clone(),
            exchange.decided,
        );
        exchange.decided = decided;
        if effects.met.len() == known {
            return None;
        }
        shared.tell_met(self.id, Some(exchange.id), &effects.met[known..]);
        if effects.without_notify {
            self.control.close_without_notify();
        }
        let changed = effects.script != exchange.effects.script;
        exchange.effects = effects;
        if !changed {
            return None;
        }
        let script = exchange.effects.script.clone();
        let ending = self.control.ends_now(&script);
        self.control.answer_changes(script);
        ending
    }

    /// Gives the fault that says what the exchange under way shows, with its number on the board.
    pub(super) fn shown_by(&self) -> Option<(u64, std::sync::Arc<ScopedFault>)> {
        let slot = self.under_way.slot();
        slot.as_ref()?.effects.answer.clone()
    }

    /// Does something with the exchange under way as the faults see it.
    #[expect(dead_code, reason = "the faults of push streams will ask with it")]
    pub(super) fn with_occasion<T>(&self, ask: impl FnOnce(&Occasion<'_>) -> T) -> Option<T> {
        let slot = self.under_way.slot();
        let exchange = slot.as_ref()?;
        Some(ask(&exchange.occasion(self.id.0)))
    }
}
