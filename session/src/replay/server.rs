//! The listener.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use coldbed_mock::server::Clock;
use tokio::net::TcpListener;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

use super::connection;
use super::options::{ReplayError, ReplayOptions};
use super::plan::{Routes, Taken};
use crate::model::Session;

/// Is a session that is being played.
#[derive(Debug)]
pub struct Replay {
    address: SocketAddr,
    shared: Arc<Shared>,
    accepting: tokio::task::JoinHandle<()>,
    connections: TaskTracker,
}

/// Counts what was played.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Counts {
    /// Requests that got what the session has.
    pub served: u64,
    /// Of those, requests that came after the last answer for their target, in order.
    pub after_end: u64,
    /// Requests for what the session never asked for, by method and path.
    pub unknown: BTreeMap<String, u64>,
}

pub(super) struct Shared {
    pub(super) session: Arc<Session>,
    pub(super) routes: Routes,
    pub(super) options: ReplayOptions,
    pub(super) stop: CancellationToken,
    pub(super) origin: String,
    state: Mutex<State>,
}

#[derive(Debug, Default)]
struct State {
    taken: Taken,
    counts: Counts,
    requests: u64,
    connections: u64,
}

impl std::fmt::Debug for Shared {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Shared")
            .field("options", &self.options)
            .finish_non_exhaustive()
    }
}

/// After a failed accept, as when there are too many open files.
const AFTER_FAILURE: Duration = Duration::from_millis(100);

impl Replay {
    /// Listens and plays.
    ///
    /// # Errors
    /// [`ReplayError`].
    pub async fn start(session: Arc<Session>, options: ReplayOptions) -> Result<Self, ReplayError> {
        let routes = Routes::of(&session);
        if routes.is_empty() {
            return Err(ReplayError::Empty);
        }
        let address = options.listen;
        let failed = |source| ReplayError::Listen { address, source };
        let listener = TcpListener::bind(address).await.map_err(failed)?;
        let address = listener.local_addr().map_err(failed)?;
        let scheme = if options.tls.is_some() {
            "https"
        } else {
            "http"
        };
        let shared = Arc::new(Shared {
            session,
            routes,
            options,
            stop: CancellationToken::new(),
            origin: format!("{scheme}://{address}"),
            state: Mutex::default(),
        });
        let connections = TaskTracker::new();
        let accepting = tokio::spawn(accept(listener, Arc::clone(&shared), connections.clone()));
        Ok(Self {
            address,
            shared,
            accepting,
            connections,
        })
    }

    /// Gives where it listens.
    pub fn local_addr(&self) -> SocketAddr {
        self.address
    }

    /// Gives its origin.
    pub fn url(&self) -> &str {
        &self.shared.origin
    }

    /// Gives the clock: it shows the time since the session began.
    pub fn clock(&self) -> &Clock {
        &self.shared.options.clock
    }

    /// Gives what was played so far.
    pub fn counts(&self) -> Counts {
        self.shared.state().counts.clone()
    }

    /// Tells whether, in order, all answers were given that there are for what was asked for so far.
    pub fn is_taken(&self) -> bool {
        self.shared.routes.is_taken(&self.shared.state().taken)
    }

    /// Stops at once; connections are closed.
    pub async fn stop(self) {
        self.shared.stop.cancel();
        self.connections.close();
        self.connections.wait().await;
        // It ends by the same token; a panic in it is told by the runtime.
        let _ = self.accepting.await;
    }
}

impl Shared {
    fn state(&self) -> MutexGuard<'_, State> {
        // Counts are never left half changed.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Numbers a request and gives the index of the exchange that answers it.
    pub(super) fn answer_to(&self, method: &str, target: &str) -> (u64, Option<usize>) {
        let now = self.now();
        let mut state = self.state();
        state.requests += 1;
        let number = state.requests;
        let (matching, at_end) = (self.options.matching, self.options.at_end);
        let found = self
            .routes
            .find(method, target, now, matching, at_end, &mut state.taken);
        match found {
            Some((index, is_after_end)) => {
                state.counts.served += 1;
                state.counts.after_end += u64::from(is_after_end);
                (number, Some(index))
            }
            None => {
                let path = target.split(['?', '#']).next().unwrap_or_default();
                *state
                    .counts
                    .unknown
                    .entry(format!("{method} {path}"))
                    .or_default() += 1;
                (number, None)
            }
        }
    }

    /// Gives the time since the session began.
    pub(super) fn now(&self) -> Duration {
        self.options.clock.now().since_start()
    }
}

async fn accept(listener: TcpListener, shared: Arc<Shared>, connections: TaskTracker) {
    loop {
        tokio::select! {
            biased;
            () = shared.stop.cancelled() => return,
            accepted = listener.accept() => match accepted {
                Ok((tcp, _)) => {
                    let number = {
                        let mut state = shared.state();
                        state.connections += 1;
                        state.connections
                    };
                    connections.spawn(connection::serve(Arc::clone(&shared), number, tcp));
                }
                Err(_exhausted) => tokio::time::sleep(AFTER_FAILURE).await,
            },
        }
    }
}
