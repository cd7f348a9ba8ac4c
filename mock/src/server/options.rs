//! What a host is started with.

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;

use super::{AnnounceError, Broker, Clock, ControlOptions, Observer, ReplayError, Tls};
use crate::dialect::{Announcement, DialectFile, KeyError, RenderError, UnknownVersion};
use crate::sim::{Simulation, VirtualTime};

/// Is what a host is started with.
#[derive(Debug)]
pub struct HostOptions {
    /// The printer.
    pub simulation: Simulation,
    /// How it is put on the wire.
    pub dialect: Arc<DialectFile>,
    /// The key clients need; `None` lets everybody in, and is allowed on loopback only.
    pub key: Option<String>,
    /// Where to listen; port 0 takes a free one.
    pub listen: SocketAddr,
    /// What it speaks TLS with; `None` for plain HTTP.
    pub tls: Option<Tls>,
    /// The clock the printer follows.
    pub clock: Clock,
    /// Who is told of everything on the wire.
    pub observer: Option<Arc<dyn Observer>>,
    /// Where to publish what the dialect's `[mqtt]` says; `None` publishes nothing.
    pub broker: Option<Broker>,
    /// How to announce the host in its network; `None` does not.
    pub announcement: Option<Announcement>,
    /// The control API; `None` for a host that nobody changes from outside.
    pub control: Option<ControlOptions>,
}

impl HostOptions {
    /// Begins with a host for clients on this machine: no key, a free port, a clock that stands at
    /// the scenario's start.
    pub fn on_loopback(simulation: Simulation, dialect: Arc<DialectFile>) -> Self {
        Self {
            simulation,
            dialect,
            key: None,
            listen: (Ipv4Addr::LOCALHOST, 0).into(),
            tls: None,
            clock: Clock::paused_at(VirtualTime::ZERO),
            observer: None,
            broker: None,
            announcement: None,
            control: None,
        }
    }
}

/// Says why a host could not be started.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The address cannot be listened on.
    #[error("cannot listen on {address}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the system says.
        #[source]
        source: io::Error,
    },
    /// Others than this machine could reach a host without a key.
    #[error("listening on {address} needs a key (only loopback addresses are open without one)")]
    NoKey {
        /// The address.
        address: SocketAddr,
    },
    /// The dialect cannot ask for the key.
    #[error("the key cannot be used with dialect `{dialect}`")]
    Key {
        /// The dialect.
        dialect: String,
        /// Why.
        #[source]
        source: KeyError,
    },
    /// The scenario updates the host to a version that the dialect does not have.
    #[error("the scenario's host updates do not fit the dialect")]
    Version(#[from] UnknownVersion),
    /// The dialect needs something that this scenario has not.
    #[error("dialect `{dialect}` does not fit the scenario's heaters ({route})")]
    Dialect {
        /// The dialect.
        dialect: String,
        /// The route that cannot be rendered.
        route: String,
        /// Why.
        #[source]
        source: Box<RenderError>,
    },
    /// The scenario has a fault on its timeline that only a host that speaks TLS can have.
    #[error(
        "the scenario's fault `{fault}` needs a host that speaks TLS [start it with --tls FILE]"
    )]
    NeedsTls {
        /// The fault.
        fault: String,
    },
    /// There is a broker, and the dialect has nothing to publish.
    #[error("dialect `{dialect}` has no `[mqtt]`, so there is nothing to publish")]
    NoMqtt {
        /// The dialect.
        dialect: String,
    },
    /// What the dialect publishes needs something that this scenario has not.
    #[error("what dialect `{dialect}` publishes does not fit the scenario's heaters")]
    Publications {
        /// The dialect.
        dialect: String,
        /// Why.
        #[source]
        source: Box<RenderError>,
    },
    /// The log that is to be replayed does not fit.
    #[error(transparent)]
    Replay(#[from] ReplayError),
    /// The host cannot be announced.
    #[error("cannot announce the host by multicast DNS")]
    Announce {
        /// Why.
        #[source]
        source: AnnounceError,
    },
}
