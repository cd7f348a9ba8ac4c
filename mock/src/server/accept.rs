//! Accepts connections, or lets them be refused.

use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use tokio::net::{TcpListener, TcpStream};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

use super::capacity::{Capacity, Share};
use super::connection;
use super::limits::STOP_TIMEOUT;
use super::network;
use super::shared::Shared;
use super::socket::Port;

/// How long to wait after the system could not accept (no file descriptors left, say) or listen.
///
/// Chosen: long enough not to burn a core, short enough not to be noticed.
const AFTER_FAILURE: Duration = Duration::from_millis(50);

/// Owns the listener and knows the connections.
#[derive(Debug)]
pub(super) struct Acceptor {
    shared: Arc<Shared>,
    port: Port,
    /// `None` while connections are refused.
    listener: Option<TcpListener>,
    /// Whether the listener hears nothing.
    is_deaf: bool,
    connections: TaskTracker,
    capacity: Capacity,
    /// Cancelled to close the connections there are.
    cut: CancellationToken,
    /// The change of the board with which the connections were closed last.
    closed: u64,
}

impl Acceptor {
    pub(super) fn new(
        shared: Arc<Shared>,
        port: Port,
        listener: TcpListener,
        capacity: Capacity,
    ) -> Self {
        Self {
            shared,
            port,
            listener: Some(listener),
            is_deaf: false,
            connections: TaskTracker::new(),
            capacity,
            cut: CancellationToken::new(),
            closed: 0,
        }
    }

    /// Carries out what is on the board before anybody is accepted.
    pub(super) async fn prepare(&mut self) -> io::Result<()> {
        let generation = self.shared.faults.generation();
        self.follow_board().await?;
        self.shared.faults.carried_out(Some(generation));
        Ok(())
    }

    /// Accepts until the host stops.
    pub(super) async fn run(mut self) {
        let mut changes = self.shared.faults.changes();
        let stop = self.shared.stop.clone();
        let _ended = Ended(Arc::clone(&self.shared));
        loop {
            let generation = *changes.borrow_and_update();
            if let Err(_in_use) = self.follow_board().await {
                tokio::select! {
                    () = stop.cancelled() => break,
                    () = tokio::time::sleep(AFTER_FAILURE) => continue,
                }
            }
            self.shared.faults.carried_out(Some(generation));
            tokio::select! {
                biased;
                () = stop.cancelled() => break,
                // The sender lives in the board that `shared` holds.
                _ = changes.changed() => {}
                accepted = accept(self.listener.as_ref(), &self.capacity) => match accepted {
                    Ok((accepted, share)) => self.admit(accepted, share, generation).await,
                    Err(_exhausted) => tokio::time::sleep(AFTER_FAILURE).await,
                },
            }
        }
        self.shut_down().await;
    }

    /// Opens or closes the listener and the connections as the board asks.
    pub(super) async fn follow_board(&mut self) -> io::Result<()> {
        let refuses = self.shared.faults.refuses();
        if refuses {
            self.listener = None;
        }
        // Also after a time of refusing that is over already: nobody who was there before still is.
        let closed = self.shared.faults.closed();
        if closed > self.closed {
            self.closed = closed;
            self.close_connections().await;
        }
        let is_new = self.listener.is_none();
        if is_new && !refuses {
            self.listener = Some(self.port.listen()?);
        }
        if let Some(listener) = &self.listener {
            let deaf = self.shared.faults.is_unreachable();
            if deaf != self.is_deaf || (deaf && is_new) {
                network::set_listener_deaf(listener, deaf);
                self.is_deaf = deaf;
            }
        }
        self.shared.sockets.follow(&self.shared.faults);
        Ok(())
    }

    /// Serves a new connection, unless it came to nobody: what the timeline has done up to now is
    /// carried out first.
    async fn admit(&mut self, accepted: (TcpStream, SocketAddr), share: Share, generation: u64) {
        self.shared.keep_up();
        let opened = self.shared.faults.generation();
        if opened != generation && self.follow_board().await.is_err() {
            // It is tried again by the loop; the connection is as if refused.
            return network::refuse(&accepted.0);
        }
        if self.listener.is_none() {
            return network::refuse(&accepted.0);
        }
        let shared = Arc::clone(&self.shared);
        let cut = self.cut.clone();
        self.connections.spawn(async move {
            connection::serve(shared, accepted, opened, cut).await;
            drop(share);
        });
    }

    async fn close_connections(&mut self) {
        self.cut.cancel();
        self.connections.close();
        self.connections.wait().await;
        self.connections.reopen();
        self.cut = CancellationToken::new();
    }

    /// Lets the connections finish, for a while.
    async fn shut_down(&mut self) {
        self.listener = None;
        self.connections.close();
        if tokio::time::timeout(STOP_TIMEOUT, self.connections.wait())
            .await
            .is_err()
        {
            self.close_connections().await;
        }
    }
}

/// Says, however the task ends, that nobody carries out the board's changes any more.
struct Ended(Arc<Shared>);

impl Drop for Ended {
    fn drop(&mut self) {
        self.0.faults.carried_out(None);
    }
}

/// Accepts a connection once there may be one more.
async fn accept(
    listener: Option<&TcpListener>,
    capacity: &Capacity,
) -> io::Result<((TcpStream, SocketAddr), Share)> {
    let Some(listener) = listener else {
        return std::future::pending().await;
    };
    let share = capacity.share().await;
    Ok((listener.accept().await?, share))
}
