//! What all tasks of a host share.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio_util::sync::CancellationToken;

use super::clock::real_now;
use super::control::{ChangeLog, Desk, Planned};
use super::network::Sockets;
use super::printer::Printer;
use super::{Clock, ConnectionId, ExchangeId, Observer, Tls, WireEvent};
use crate::dialect::DialectFile;
use crate::drift::{DriftBoard, DriftChange};
use crate::fault::{FaultBoard, FaultChange, ScopedFault};
use crate::scenario::Scenario;
use crate::sim::{Simulation, VirtualTime};

/// Is what all tasks of a host share.
#[derive(Debug)]
pub(super) struct Shared {
    pub(super) dialects: Arc<DialectFile>,
    pub(super) key: Option<String>,
    pub(super) tls: Option<Tls>,
    pub(super) wire: Wire,
    pub(super) faults: FaultBoard,
    pub(super) drifts: DriftBoard,
    /// Cancelled when the host is asked to stop.
    pub(super) stop: CancellationToken,
    pub(super) sockets: Sockets,
    /// Where the control API makes its changes, if there is one.
    pub(super) desk: Option<Arc<Desk>>,
    printer: Mutex<Printer>,
    connections: AtomicU64,
    exchanges: AtomicU64,
}

/// Tells the observer, with the time of both clocks.
#[derive(Debug, Clone)]
pub(super) struct Wire {
    pub(super) clock: Clock,
    observer: Option<Arc<dyn Observer>>,
}

impl Wire {
    pub(super) fn new(clock: Clock, observer: Option<Arc<dyn Observer>>) -> Self {
        Self { clock, observer }
    }

    /// Tells of an event, which is made only if somebody listens.
    pub(super) fn tell(&self, event: impl FnOnce(VirtualTime) -> WireEvent) {
        if let Some(observer) = &self.observer {
            let virtual_time = self.clock.now();
            observer.observe(real_now(), event(virtual_time));
        }
    }
}

impl Shared {
    pub(super) fn new(
        simulation: Simulation,
        dialects: Arc<DialectFile>,
        key: Option<String>,
        tls: Option<Tls>,
        wire: Wire,
    ) -> Self {
        let drifts = DriftBoard::with_hook({
            let wire = wire.clone();
            move |change| wire.tell(|virtual_time| of_drift(virtual_time, change))
        });
        let clock = wire.clock.clone();
        let faults = FaultBoard::new(move || clock.now(), {
            let wire = wire.clone();
            move |change| wire.tell(|virtual_time| of_fault(virtual_time, change))
        });
        let printer = Printer::new(
            simulation,
            Arc::clone(&dialects),
            faults.clone(),
            drifts.clone(),
        );
        Self {
            dialects,
            key,
            tls,
            wire,
            faults,
            drifts,
            stop: CancellationToken::new(),
            sockets: Sockets::default(),
            desk: None,
            printer: Mutex::new(printer),
            connections: AtomicU64::new(1),
            exchanges: AtomicU64::new(1),
        }
    }

    /// Has the control API make its changes here, those of a replayed log among them.
    pub(super) fn with_desk(mut self, desk: Arc<Desk>, log: ChangeLog, planned: Planned) -> Self {
        self.printer_as_it_is().keep_log(log, planned);
        self.desk = Some(desk);
        self
    }

    /// Makes the changes of a replayed log up to now.
    pub(super) fn catch_up(&self) {
        if let Some(desk) = &self.desk {
            desk.catch_up(self);
        }
    }

    pub(super) fn scenario(&self) -> Arc<Scenario> {
        Arc::clone(self.printer_as_it_is().scenario())
    }

    pub(super) fn printer(&self) -> MutexGuard<'_, Printer> {
        self.catch_up();
        self.printer_as_it_is()
    }

    /// As [`Shared::printer`], for who is about to make the changes.
    pub(super) fn printer_as_it_is(&self) -> MutexGuard<'_, Printer> {
        // A panic inside is a bug of ours that has been reported; the others can go on.
        self.printer.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Lets the boards follow the timeline up to now.
    pub(super) fn keep_up(&self) {
        let now = self.wire.clock.now();
        self.printer().truth(now);
    }

    /// Tells the observer which faults have had a part in something.
    pub(super) fn tell_met(
        &self,
        connection: ConnectionId,
        exchange: Option<ExchangeId>,
        met: &[Arc<ScopedFault>],
    ) {
        for fault in met {
            self.wire.tell(|virtual_time| WireEvent::FaultHappened {
                virtual_time,
                connection,
                exchange,
                fault: Arc::clone(fault),
            });
        }
    }

    pub(super) fn next_connection(&self) -> ConnectionId {
        ConnectionId(self.connections.fetch_add(1, Ordering::Relaxed))
    }

    pub(super) fn next_exchange(&self) -> ExchangeId {
        ExchangeId(self.exchanges.fetch_add(1, Ordering::Relaxed))
    }
}

fn of_fault(virtual_time: VirtualTime, change: FaultChange) -> WireEvent {
    match change {
        FaultChange::Raised(fault) => WireEvent::FaultRaised {
            virtual_time,
            fault,
        },
        FaultChange::Cleared(fault) => WireEvent::FaultCleared {
            virtual_time,
            fault,
        },
    }
}

fn of_drift(virtual_time: VirtualTime, change: DriftChange) -> WireEvent {
    match change {
        DriftChange::Raised(drift) => WireEvent::DriftRaised {
            virtual_time,
            drift,
        },
        DriftChange::Cleared(drift) => WireEvent::DriftCleared {
            virtual_time,
            drift,
        },
    }
}
