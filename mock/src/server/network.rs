//! The network under the connections: what happens to packets.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::time::Duration;

use socket2::SockRef;
use tokio::net::{TcpListener, TcpStream};
use tokio_util::sync::CancellationToken;

use super::ConnectionId;
use super::shared::Shared;
use crate::fault::{FaultBoard, Network, deafen, hear};

/// Knows the sockets of the open connections.
#[derive(Debug, Default)]
pub(super) struct Sockets(Mutex<HashMap<ConnectionId, Socket>>);

#[derive(Debug)]
struct Socket {
    tcp: Weak<TcpStream>,
    /// The generation of the board when it was opened.
    opened: u64,
    is_deaf: bool,
}

impl Sockets {
    /// Takes a new connection in.
    pub(super) fn add(&self, id: ConnectionId, opened: u64, tcp: &Arc<TcpStream>) {
        let socket = Socket {
            tcp: Arc::downgrade(tcp),
            opened,
            is_deaf: false,
        };
        self.sockets().insert(id, socket);
    }

    /// Forgets a connection.
    pub(super) fn remove(&self, id: ConnectionId) {
        self.sockets().remove(&id);
    }

    /// Makes each socket deaf or lets it hear, as the board says.
    pub(super) fn follow(&self, faults: &FaultBoard) {
        for (id, socket) in &mut *self.sockets() {
            let network = faults.network(id.0, socket.opened);
            let deaf = matches!(network, Network::Unreachable | Network::HalfOpen);
            if deaf != socket.is_deaf
                && let Some(tcp) = socket.tcp.upgrade()
            {
                if matches!(network, Network::Lost) {
                    // Before it hears again: what comes afterwards must be answered.
                    forget_received(&tcp);
                }
                socket.is_deaf = set_deaf(&SockRef::from(&*tcp), deaf);
            }
        }
    }

    fn sockets(&self) -> MutexGuard<'_, HashMap<ConnectionId, Socket>> {
        // Nothing is left half changed.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Makes a listener deaf, so that no connect is answered, or lets it hear.
pub(super) fn set_listener_deaf(listener: &TcpListener, deaf: bool) {
    set_deaf(&SockRef::from(listener), deaf);
}

fn set_deaf(socket: &SockRef<'_>, deaf: bool) -> bool {
    let done = if deaf { deafen(socket) } else { hear(socket) };
    match done {
        Ok(()) => deaf,
        Err(_unsupported) => !deaf,
    }
}

/// Drops what came in before a connection died: it was acknowledged and is nobody's any more.
fn forget_received(tcp: &TcpStream) {
    let mut scratch = [0; 256];
    while tcp.try_read(&mut scratch).is_ok_and(|count| count > 0) {}
}

/// Is one connection as the network sees it.
pub(super) struct Line<'a> {
    pub(super) shared: &'a Shared,
    pub(super) id: ConnectionId,
    pub(super) opened: u64,
    pub(super) tcp: &'a TcpStream,
    pub(super) cut: &'a CancellationToken,
}

impl Line<'_> {
    /// Serves a connection while its network is there.
    ///
    /// Without a network nothing is read or written; what the system has taken already it goes on
    /// sending again and again, as it would. The sockets are made deaf by the acceptor.
    pub(super) async fn serve(&self, serving: impl Future<Output = ()>) {
        let mut serving = std::pin::pin!(serving);
        let mut changes = self.shared.faults.changes();
        let mut was_away = false;
        loop {
            match self.network() {
                Network::Up => tokio::select! {
                    biased;
                    // The sender lives in the board that `shared` holds.
                    _ = changes.changed() => {}
                    () = serving.as_mut() => return,
                },
                Network::Unreachable => {
                    was_away = true;
                    if !self.waits_for(&mut changes).await {
                        // There is nobody to say farewell to.
                        return self.reset();
                    }
                }
                Network::HalfOpen => return self.is_dead(&mut changes).await,
                Network::Lost if was_away => return self.is_dead(&mut changes).await,
                Network::Lost => return self.is_lost().await,
            }
        }
    }

    /// Waits for a change; `false` when the host stops first.
    async fn waits_for(&self, changes: &mut tokio::sync::watch::Receiver<u64>) -> bool {
        tokio::select! {
            biased;
            () = self.cut.cancelled() => false,
            () = self.shared.stop.cancelled() => false,
            _ = changes.changed() => true,
        }
    }

    /// Sees a dead connection to its end: once the host is there again, it knows nothing of it, and
    /// answers what the client sends with RST (RFC 9293 section 3.10.7.1).
    async fn is_dead(&self, changes: &mut tokio::sync::watch::Receiver<u64>) {
        while matches!(self.network(), Network::Unreachable | Network::HalfOpen) {
            if !self.waits_for(changes).await {
                return self.reset();
            }
        }
        self.is_lost().await;
    }

    /// Sees a connection to its end of which the host knows nothing.
    async fn is_lost(&self) {
        let mut scratch = [0];
        tokio::select! {
            () = self.cut.cancelled() => {}
            () = self.shared.stop.cancelled() => {}
            // A readiness that is left from before would be no news.
            _ = self.tcp.peek(&mut scratch) => {}
        }
        self.reset();
    }

    fn network(&self) -> Network {
        self.shared.faults.network(self.id.0, self.opened)
    }

    /// Lets the end of the connection be a reset.
    pub(super) fn reset(&self) {
        refuse(self.tcp);
    }
}

/// Lets the end of a connection that nobody serves be a reset.
pub(super) fn refuse(tcp: &TcpStream) {
    // Fails only for a connection that is gone already.
    let _ = SockRef::from(tcp).set_linger(Some(Duration::ZERO));
}

/// Reads and drops what a client sends until it leaves.
pub(super) async fn read_away(tcp: &TcpStream) {
    let mut scratch = [0; 1024];
    loop {
        if tcp.readable().await.is_err() {
            return;
        }
        match tcp.try_read(&mut scratch) {
            Ok(0) => return,
            Ok(_) => {}
            Err(error) if error.kind() == std::io::ErrorKind::WouldBlock => {}
            Err(_lost) => return,
        }
    }
}

/// Prepares a new connection.
pub(super) fn prepare(tcp: &TcpStream, probe_after: Duration) {
    // Small answers must not wait for an acknowledgement, and bytes before a reset must be gone.
    // Both fail only if the client has left already.
    let _ = tcp.set_nodelay(true);
    let probes = socket2::TcpKeepalive::new().with_time(probe_after);
    let _ = SockRef::from(tcp).set_tcp_keepalive(&probes);
}
