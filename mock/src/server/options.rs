//! What a host is started with.

use std::io;
use std::net::SocketAddr;
use std::sync::Arc;

use super::{Clock, Observer};
use crate::dialect::{DialectFile, KeyError, RenderError, UnknownVersion};
use crate::sim::Simulation;

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
    /// The clock the printer follows.
    pub clock: Clock,
    /// Who is told of everything on the wire.
    pub observer: Option<Arc<dyn Observer>>,
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
}
