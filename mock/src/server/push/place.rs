//! Where a push goes.

use std::sync::Arc;

use http::{HeaderMap, Method, Uri, request};

use super::feed::Look;
use crate::dialect::{Answer, Matched, Request, Routed};
use crate::fault::{MessageEffects, StreamEffects};
use crate::server::connection::Connection;
use crate::server::shared::Shared;
use crate::server::{ExchangeId, WireEvent};
use crate::sim::Truth;

/// Is what is pushed, on which connection.
pub(super) struct Place {
    pub(super) shared: Arc<Shared>,
    pub(super) connection: Connection,
    pub(super) exchange: ExchangeId,
    pub(super) matched: Matched,
    /// What was asked with, where there is a key that may be revoked.
    asked: Option<Box<Asked>>,
}

struct Asked {
    method: Method,
    uri: Uri,
    headers: HeaderMap,
}

impl Place {
    pub(super) fn new(
        shared: &Arc<Shared>,
        connection: &Connection,
        exchange: ExchangeId,
        head: &request::Parts,
        matched: Matched,
    ) -> Self {
        let asked = || Asked {
            method: head.method.clone(),
            uri: head.uri.clone(),
            headers: head.headers.clone(),
        };
        Self {
            asked: shared.key.is_some().then(|| Box::new(asked())),
            shared: Arc::clone(shared),
            connection: connection.clone(),
            exchange,
            matched,
        }
    }

    /// Looks at the route now, as the faults let it be seen.
    pub(super) fn look(&self) -> Look {
        let now = self.shared.wire.clock.now();
        let old = self.connection.shown_by();
        let old = old.filter(|(id, _)| self.shared.faults.is_in_force(*id));
        let old = old.as_ref().map(|(id, scoped)| (*id, &scoped.fault));
        self.shared.printer().look(now, &self.matched, old)
    }

    /// Gives what is wrong with the stream now.
    pub(super) fn faults(&self) -> StreamEffects {
        let faults = &self.shared.faults;
        let of_stream = self.connection.with_occasion(|it| faults.of_stream(it));
        of_stream.unwrap_or_default()
    }

    /// Decides what is wrong with the next message, and tells the observer; with whether there is an
    /// id before it that could be repeated.
    pub(super) fn faults_of_message(&self, has_id_before: bool) -> MessageEffects {
        let faults = &self.shared.faults;
        let of_message = self
            .connection
            .with_occasion(|it| faults.of_message(it, has_id_before));
        let effects = of_message.unwrap_or_default();
        let connection = self.connection.id;
        self.shared
            .tell_met(connection, Some(self.exchange), &effects.met);
        effects
    }

    /// Gives the answer to who asked for this with a key that is no longer good; `None` while it is,
    /// and where none is needed.
    pub(super) fn refusal(&self) -> Option<(Answer, Arc<Truth>)> {
        let asked = self.asked.as_ref()?;
        let is_revoked = self.connection.key_is_revoked();
        let mut printer = self.shared.printer();
        let truth = printer.truth(self.shared.wire.clock.now());
        if truth.printer.key_is_good && !is_revoked {
            return None;
        }
        let request = Request {
            method: &asked.method,
            path: asked.uri.path(),
            query: asked.uri.query(),
            headers: &asked.headers,
            body: b"",
        };
        let dialect = self.shared.dialects.of(&self.matched);
        let key = self.shared.key.as_deref();
        let mut access = printer.access(dialect, &request, key, &truth);
        access.key_is_good = false;
        match dialect.route(&request, &access) {
            Routed::Answer(answer) => Some((answer, truth)),
            _ => None,
        }
    }

    /// Tells the observer of what is about to be sent.
    pub(super) fn tell(&self, bytes: &bytes::Bytes, truth: &Arc<Truth>) {
        self.shared.wire.tell(|virtual_time| WireEvent::PushSent {
            virtual_time,
            exchange: self.exchange,
            bytes: bytes.clone(),
            truth: Arc::clone(truth),
        });
    }
}
