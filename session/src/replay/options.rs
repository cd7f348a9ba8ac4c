//! What a replay is told.

use std::fmt;
use std::net::SocketAddr;
use std::sync::Arc;

use coldbed_mock::server::Clock;

use crate::format::End;
use crate::model::Exchange;
use crate::stream::Tls;

/// Says which recorded exchange answers a request.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Matching {
    /// The n-th request for a target gets what the n-th one got.
    InOrder,
    /// What the host would have said then: the last exchange for the target that had begun by now, or
    /// the first.
    #[default]
    ByTime,
}

/// Says what a request gets for which there is nothing left, in order.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum AtEnd {
    /// The last answer again.
    #[default]
    Repeat,
    /// 404, as what the session never asked for.
    NotFound,
}

/// Is told what happens.
pub trait ReplayObserver: Send + Sync {
    /// A watcher has connected.
    fn connected(&self, _connection: u64) {}
    /// A connection is over.
    fn disconnected(&self, _connection: u64) {}
    /// A watcher has asked. `recorded` is the exchange that answers it, if there is one.
    fn asked(
        &self,
        _connection: u64,
        _number: u64,
        _method: &str,
        _target: &str,
        _recorded: Option<&Exchange>,
    ) {
    }
    /// All bytes of an answer have been handed to the system, or it ended as it had.
    fn answered(&self, _number: u64, _recorded: &Exchange, _end: Option<End>) {}
    /// Something of a stream has been handed to the system.
    fn pushed(&self, _number: u64, _recorded: &Exchange, _bytes: &[u8]) {}
}

/// Says how a session is played.
#[derive(Clone)]
pub struct ReplayOptions {
    /// Where to listen.
    pub listen: SocketAddr,
    /// Speaks TLS with the watcher.
    pub tls: Option<Tls>,
    /// The clock: it shows the time since the session began.
    pub clock: Clock,
    /// Which exchange answers a request.
    pub matching: Matching,
    /// What comes after the last one, in order.
    pub at_end: AtEnd,
    /// Who is told.
    pub observer: Option<Arc<dyn ReplayObserver>>,
}

impl fmt::Debug for ReplayOptions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("ReplayOptions")
            .field("listen", &self.listen)
            .field("tls", &self.tls)
            .field("matching", &self.matching)
            .field("at_end", &self.at_end)
            .finish_non_exhaustive()
    }
}

/// Says why a session is not played.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// The address cannot be listened on.
    #[error("cannot listen on {address}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the system says.
        #[source]
        source: std::io::Error,
    },
    /// There is nothing to play.
    #[error("the session has no exchange, so there is nothing to answer with")]
    Empty,
}
