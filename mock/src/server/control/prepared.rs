//! The control API before its host is there.

use std::net::SocketAddr;
use std::sync::Arc;

use tokio::net::TcpListener;

use super::book::{Book, Both};
use super::replay::{self, Plan};
use super::{ChangeLog, Control, ControlListener, ControlOptions, Desk};
use crate::control::{LogHeader, Redaction};
use crate::dialect::DialectFile;
use crate::server::shared::Shared;
use crate::server::{Observer, StartError};
use crate::sim::Simulation;

/// Is everything that can go wrong with the control API before its host is there.
#[derive(Debug)]
pub(in crate::server) struct Prepared {
    log: ChangeLog,
    book: Arc<Book>,
    plan: Plan,
    key: Option<String>,
    listener: Option<(TcpListener, SocketAddr)>,
}

/// Is the control API of a host that is about to begin.
#[derive(Debug)]
pub(in crate::server) struct Opened {
    pub(in crate::server) control: Control,
    key: Option<String>,
    listener: Option<(TcpListener, SocketAddr)>,
}

impl Prepared {
    /// Checks the log that is to be replayed and takes the port.
    ///
    /// # Errors
    /// [`StartError::NoKey`], [`StartError::Listen`], [`StartError::Replay`].
    pub(in crate::server) async fn new(
        options: ControlOptions,
        simulation: &Simulation,
        dialects: &DialectFile,
        host_key: Option<&str>,
        speaks_tls: bool,
    ) -> Result<Self, StartError> {
        let header = header(simulation, dialects);
        let plan = match options.replay {
            None => Plan::default(),
            Some(logged) => {
                Plan::new(logged, &header, simulation.scenario(), dialects, speaks_tls)?
            }
        };
        let listener = match options.listen {
            None => None,
            Some(address) if options.key.is_none() && !address.ip().is_loopback() => {
                return Err(StartError::NoKey { address });
            }
            Some(address) => Some(bind(address).await?),
        };
        let schemes = dialects.versions().iter().map(|dialect| dialect.auth());
        let redaction = Redaction::new(host_key, schemes);
        let log = ChangeLog::new(header, options.log);
        let book = Arc::new(Book::new(redaction, log.clone()));
        Ok(Self {
            log,
            book,
            plan,
            key: options.key,
            listener,
        })
    }

    /// Gives who observes the host, others included.
    pub(in crate::server) fn observer(
        &self,
        other: Option<Arc<dyn Observer>>,
    ) -> Arc<dyn Observer> {
        let book = Arc::clone(&self.book) as Arc<dyn Observer>;
        match other {
            None => book,
            Some(other) => Arc::new(Both([book, other])),
        }
    }

    /// Takes its place in what the tasks of the host share.
    pub(in crate::server) fn open(self, shared: Shared) -> (Arc<Shared>, Opened) {
        let Plan { printer, boards } = self.plan;
        let desk = Arc::new(Desk::new(self.log.clone(), self.book, boards));
        let shared = Arc::new(shared.with_desk(Arc::clone(&desk), self.log, printer));
        let opened = Opened {
            control: Control::new(Arc::clone(&shared), desk),
            key: self.key,
            listener: self.listener,
        };
        (shared, opened)
    }
}

impl Opened {
    /// Begins to answer and to replay.
    pub(in crate::server) fn begin(self) -> (Control, Option<ControlListener>) {
        tokio::spawn(replay::run(Arc::clone(&self.control.shared)));
        let control = self.control.clone();
        let listener = self.listener.map(|(listener, address)| {
            ControlListener::start(listener, address, self.control, self.key)
        });
        (control, listener)
    }
}

fn header(simulation: &Simulation, dialects: &DialectFile) -> LogHeader {
    LogHeader {
        coldbed_log: LogHeader::VERSION,
        scenario: simulation.scenario().name.clone(),
        seed: simulation.seed(),
        dialect: dialects.first().name().to_owned(),
        dialect_version: dialects.first().version().to_owned(),
        forgotten: 0,
    }
}

async fn bind(address: SocketAddr) -> Result<(TcpListener, SocketAddr), StartError> {
    let listen = async {
        let listener = TcpListener::bind(address).await?;
        let taken = listener.local_addr()?;
        Ok((listener, taken))
    };
    listen
        .await
        .map_err(|source| StartError::Listen { address, source })
}
