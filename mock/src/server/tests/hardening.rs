//! What the tests of bad clients have in common.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use socket2::SockRef;
use tokio::net::TcpStream;

use super::common::{Bench, PATIENCE};
use crate::server::{Observer, WireEvent};

/// Counts connections and requests, where keeping every event would be too much.
#[derive(Debug, Default)]
pub(super) struct Tally {
    opened: AtomicUsize,
    closed: AtomicUsize,
    requests: AtomicUsize,
    more: tokio::sync::Notify,
}

impl Observer for Tally {
    fn observe(&self, _at: Instant, event: WireEvent) {
        let counter = match event {
            WireEvent::ConnectionOpened { .. } => &self.opened,
            WireEvent::ConnectionClosed { .. } => &self.closed,
            WireEvent::RequestReceived { .. } => &self.requests,
            _ => return,
        };
        counter.fetch_add(1, Ordering::SeqCst);
        self.more.notify_waiters();
    }
}

impl Tally {
    /// Starts a host in the middle of a print that tells this tally.
    pub(super) async fn of_host(
        change: impl FnOnce(&mut crate::server::HostOptions),
    ) -> (Bench, Arc<Self>) {
        let tally = Arc::new(Self::default());
        let bench = Bench::with(|options| {
            options.observer = Some(Arc::clone(&tally) as Arc<dyn Observer>);
            change(options);
        })
        .await;
        bench.host.clock().jump_to(super::common::PRINTING).unwrap();
        (bench, tally)
    }

    pub(super) fn requests(&self) -> usize {
        self.requests.load(Ordering::SeqCst)
    }

    pub(super) fn opened(&self) -> usize {
        self.opened.load(Ordering::SeqCst)
    }

    /// Waits until so many connections were opened, and all of them closed: a task that panics tells
    /// of no end.
    pub(super) async fn wait_for_the_end_of(&self, connections: usize) {
        let all = self.wait_patiently_for_the_end_of(connections);
        let ended = tokio::time::timeout(PATIENCE, all).await;
        ended.unwrap_or_else(|_| panic!("of {connections}, opened and closed: {:?}", self.now()));
    }

    /// As [`Tally::wait_for_the_end_of`], without an end to patience.
    pub(super) async fn wait_patiently_for_the_end_of(&self, connections: usize) {
        loop {
            let more = self.more.notified();
            if self.now() == (connections, connections) {
                return;
            }
            more.await;
        }
    }

    fn now(&self) -> (usize, usize) {
        let closed = self.closed.load(Ordering::SeqCst);
        (self.opened(), closed)
    }
}

/// Closes a connection with RST.
pub(super) fn reset(stream: TcpStream) {
    SockRef::from(&stream)
        .set_linger(Some(std::time::Duration::ZERO))
        .unwrap();
    drop(stream);
}

/// Checks that the next client is served as ever.
pub(super) async fn assert_serves(bench: &Bench) {
    let reply = bench.ask("GET /printer\nConnection: close").await;
    assert_eq!(reply.status, 200);
}
