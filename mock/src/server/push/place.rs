//! Where a push goes.

use std::sync::Arc;

use super::feed::Look;
use crate::dialect::Matched;
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
}

impl Place {
    /// Looks at the route now, as the faults let it be seen.
    pub(super) fn look(&self) -> Look {
        let now = self.shared.wire.clock.now();
        let old = self.connection.shown_by();
        let old = old.filter(|(id, _)| self.shared.faults.is_in_force(*id));
        let old = old.as_ref().map(|(id, scoped)| (*id, &scoped.fault));
        self.shared.printer().look(now, &self.matched, old)
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
