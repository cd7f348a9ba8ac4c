//! A running host.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::sync::Arc;

use tokio::task::JoinHandle;

use super::accept::Acceptor;
use super::announce::Announcer;
use super::capacity::Capacity;
use super::control::{Control, ControlListener, Opened, Prepared};
use super::keeper;
use super::limits::MAX_CONNECTIONS;
use super::publish::{Broker, Publisher};
use super::shared::{Shared, Wire};
use super::socket::Port;
use super::{Clock, HostOptions, StartError};
use crate::dialect::{DialectFile, KeyError};
use crate::drift::DriftBoard;
use crate::fault::FaultBoard;
use crate::scenario::Action;
use crate::sim::{Simulation, Truth};

/// Is a running host. Dropping it stops it too, without waiting.
#[derive(Debug)]
pub struct Host {
    shared: Arc<Shared>,
    address: SocketAddr,
    acceptor: Option<JoinHandle<()>>,
    publisher: Option<Publisher>,
    announcer: Option<Announcer>,
    control: Option<Control>,
    control_listener: Option<ControlListener>,
}

impl Host {
    /// Starts a host. When this returns, it accepts.
    ///
    /// # Errors
    /// See [`StartError`].
    ///
    /// # Panics
    /// Outside a Tokio runtime.
    pub async fn start(options: HostOptions) -> Result<Self, StartError> {
        let HostOptions {
            mut simulation,
            dialect,
            key,
            listen,
            tls,
            clock,
            observer,
            broker,
            announcement,
            control,
        } = options;
        check(&mut simulation, &dialect, key.as_deref(), listen)?;
        if tls.is_none() {
            check_without_tls(&simulation)?;
        }
        if broker.is_some() {
            check_publications(&mut simulation, &dialect)?;
        }
        let failed = |source| StartError::Listen {
            address: listen,
            source,
        };
        let port = Port::take(listen).map_err(failed)?;
        let listener = port.listen().map_err(failed)?;
        let address = port.address();
        let (speaks_tls, host_key) = (tls.is_some(), key.clone());
        let prepared = match control {
            None => None,
            Some(options) => {
                let host_key = host_key.as_deref();
                let prepared =
                    Prepared::new(options, &simulation, &dialect, host_key, speaks_tls).await?;
                Some(prepared)
            }
        };
        let observer = match &prepared {
            None => observer,
            Some(prepared) => Some(prepared.observer(observer)),
        };
        let wire = Wire::new(clock, observer);
        let shared = Shared::new(simulation, dialect, key, tls, wire);
        let (shared, opened) = match prepared {
            None => (Arc::new(shared), None),
            Some(prepared) => {
                let (shared, opened) = prepared.open(shared);
                (shared, Some(opened))
            }
        };
        let announcer = announcement
            .map(|announcement| Announcer::start(&announcement, address))
            .transpose()
            .map_err(|source| StartError::Announce { source })?;
        // A scenario may begin with a host that nobody can reach.
        shared.keep_up();
        let capacity = Capacity::new(MAX_CONNECTIONS);
        let mut acceptor = Acceptor::new(Arc::clone(&shared), port, listener, capacity);
        acceptor.prepare().await.map_err(failed)?;
        tokio::spawn(keeper::run(Arc::clone(&shared)));
        let publish = |broker: Broker| Publisher::start(Arc::clone(&shared), broker);
        let (control, control_listener) = opened.map(Opened::begin).unzip();
        Ok(Self {
            publisher: broker.map(publish),
            announcer,
            control,
            control_listener: control_listener.flatten(),
            shared,
            address,
            acceptor: Some(tokio::spawn(acceptor.run())),
        })
    }

    /// Gives the address it listens on, with the port that was taken.
    pub fn local_addr(&self) -> SocketAddr {
        self.address
    }

    /// Gives the URL for a client on this machine, without a slash at the end.
    pub fn url(&self) -> String {
        let address = from_here(self.address);
        let scheme = match self.shared.tls {
            Some(_) => "https",
            None => "http",
        };
        // An IPv6 address comes with its brackets (RFC 3986 section 3.2.2).
        format!("{scheme}://{address}")
    }

    /// Gives the clock.
    pub fn clock(&self) -> &Clock {
        &self.shared.wire.clock
    }

    /// Gives the board of faults.
    pub fn faults(&self) -> &FaultBoard {
        &self.shared.faults
    }

    /// Gives the board of drifts.
    pub fn drifts(&self) -> &DriftBoard {
        &self.shared.drifts
    }

    /// Gives the truth now.
    pub fn truth(&self) -> Arc<Truth> {
        self.shared.printer().truth(self.shared.wire.clock.now())
    }

    /// Gives the control API as functions; `None` if the host was started without it.
    pub fn control(&self) -> Option<&Control> {
        self.control.as_ref()
    }

    /// Gives the address that the control API listens on, if it does.
    pub fn control_addr(&self) -> Option<SocketAddr> {
        let listener = self.control_listener.as_ref();
        listener.map(ControlListener::address)
    }

    /// Gives the URL of the control API for a client on this machine, without a slash at the end.
    pub fn control_url(&self) -> Option<String> {
        let address = from_here(self.control_addr()?);
        Some(format!("http://{address}"))
    }

    /// Stops: the announcement is withdrawn, the broker is told good-bye, nothing new is accepted,
    /// answers under way are finished, push streams end. Comes back when the last connection is closed, after [`STOP_TIMEOUT`](super::STOP_TIMEOUT) at the
    /// latest.
    pub async fn stop(mut self) {
        if let Some(announcer) = self.announcer.take() {
            announcer.stop().await;
        }
        if let Some(publisher) = self.publisher.take() {
            publisher.stop().await;
        }
        self.shared.stop.cancel();
        if let Some(acceptor) = self.acceptor.take()
            && let Err(error) = acceptor.await
            && error.is_panic()
        {
            std::panic::resume_unwind(error.into_panic());
        }
        if let Some(listener) = self.control_listener.take() {
            listener.ended().await;
        }
        // What was raised through the control API ends when this is dropped.
    }
}

impl Drop for Host {
    fn drop(&mut self) {
        self.shared.stop.cancel();
        if let Some(desk) = &self.shared.desk {
            desk.take_back_all();
        }
    }
}

/// Gives the address at which a client on this machine reaches what listens on another.
fn from_here(mut address: SocketAddr) -> SocketAddr {
    if address.ip().is_unspecified() {
        address.set_ip(match address.ip() {
            IpAddr::V4(_) => Ipv4Addr::LOCALHOST.into(),
            IpAddr::V6(_) => Ipv6Addr::LOCALHOST.into(),
        });
    }
    address
}

/// Checks that nothing on the timeline needs TLS.
fn check_without_tls(simulation: &Simulation) -> Result<(), StartError> {
    let events = &simulation.scenario().events;
    let fault = events.iter().find_map(|event| match &event.action {
        Action::FaultRaised { fault, .. } if fault.fault.needs_tls() => Some(fault.fault.name()),
        _ => None,
    });
    match fault {
        Some(fault) => Err(StartError::NeedsTls { fault }),
        None => Ok(()),
    }
}

fn check_publications(
    simulation: &mut Simulation,
    dialects: &DialectFile,
) -> Result<(), StartError> {
    let name = || dialects.first().name().to_owned();
    if dialects.first().mqtt().is_none() {
        return Err(StartError::NoMqtt { dialect: name() });
    }
    let start = simulation.truth_at(crate::sim::VirtualTime::ZERO);
    for dialect in dialects.versions() {
        let checked = dialect.check_publications(&start.heaters);
        checked.map_err(|source| StartError::Publications {
            dialect: name(),
            source: Box::new(source),
        })?;
    }
    Ok(())
}

fn check(
    simulation: &mut Simulation,
    dialects: &DialectFile,
    key: Option<&str>,
    listen: SocketAddr,
) -> Result<(), StartError> {
    if key.is_none() && !listen.ip().is_loopback() {
        return Err(StartError::NoKey { address: listen });
    }
    dialects.check_updates(simulation.scenario())?;
    let start = simulation.truth_at(crate::sim::VirtualTime::ZERO);
    for dialect in dialects.versions() {
        match key.map(|key| dialect.auth().check_key(key)) {
            // An update may do away with the key.
            Some(Err(KeyError::NotAsked)) if dialect.place() != dialects.first().place() => {}
            Some(Err(source)) => {
                return Err(StartError::Key {
                    dialect: dialect.name().to_owned(),
                    source,
                });
            }
            Some(Ok(())) | None => {}
        }
        dialect
            .check_heaters(&start.heaters)
            .map_err(|(route, source)| StartError::Dialect {
                dialect: dialect.name().to_owned(),
                route: dialect.describe(route),
                source: Box::new(source),
            })?;
    }
    Ok(())
}
