//! `coldbed serve`.

use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use coldbed_mock::dialect::{Announcement, Dialect};
use coldbed_mock::server::{Broker, Clock, Host, HostOptions, Observer, Tls, WireEvent};
use coldbed_mock::sim::{Simulation, VirtualTime};
use tokio::signal::unix::{Signal, SignalKind, signal};

use super::say::say;
use super::{Failure, authority_file, control, dialect, open_files, scenario};
use crate::cli::{BrokerArgument, ServeArgs};
use crate::exit_code::Outcome;

pub(super) async fn serve(args: ServeArgs) -> Result<Outcome, Failure> {
    if !args.listen.ip().is_loopback() {
        if args.key.is_none() {
            let message = format!(
                "--listen {} is reachable from other machines and needs --key [or listen on 127.0.0.1]",
                args.listen
            );
            return Err(Failure::bad_input(message));
        }
        eprintln!(
            "coldbed: caution: {}",
            caution(args.listen, args.tls.is_some())
        );
    }
    open_files::raise_limit();
    let scenario = scenario(&args.scenario)?;
    let dialect = dialect(&args.dialect)?;
    let broker = broker(args.mqtt, dialect.first())?;
    let announcement = args
        .announce
        .then(|| announcement(dialect.first(), &scenario.name));
    let observer = broker
        .clone()
        .map(|broker| Arc::new(BrokerNotes(broker)) as _);
    let mut simulation = Simulation::new(scenario, args.seed);
    let from = VirtualTime::new(args.from);
    let control = control::options(args.control)?;
    // The changes of a log may come before the moment to start at.
    if control
        .as_ref()
        .is_none_or(|control| control.replay.is_none())
    {
        simulation.advance_to(from.tick());
    }
    let clock = Clock::paused_at(from);
    clock.set_rate(args.rate).map_err(Failure::bad_input)?;
    clock.resume();
    let make = |_file| Tls::new(args.tls_certificate, args.listen.ip());
    let tls = args.tls.as_ref().map(make).transpose().map_err(own_fault)?;
    let authority = tls.as_ref().map(|tls| tls.authority_pem().to_owned());
    let host = Host::start(HostOptions {
        simulation,
        dialect,
        key: args.key,
        listen: args.listen,
        tls,
        clock,
        observer,
        broker,
        announcement,
        control,
    })
    .await
    // A port in use or a foreign address is something to be put right on the command line.
    .map_err(Failure::bad_input)?;
    if let (Some(file), Some(pem)) = (&args.tls, authority) {
        authority_file::write(file, &pem).map_err(Failure::bad_input)?;
    }
    // Whoever reads the line may send a signal at once.
    let mut ending = Ending::watch()?;
    say(beginning(&host));
    ending.wait().await;
    host.stop().await;
    Ok(Outcome::Done)
}

/// Says where the host listens. Written as one, as a reader may close the pipe after the first line.
fn beginning(host: &Host) -> String {
    let control = host.control_url();
    let control = control.map_or_else(String::new, |url| format!("control on {url}\n"));
    format!("listening on {}\n{control}", host.url())
}

/// Gives the broker to publish through, if there is one and the dialect has something to publish.
fn broker(argument: Option<BrokerArgument>, dialect: &Dialect) -> Result<Option<Broker>, Failure> {
    let Some(broker) = argument.transpose().map_err(Failure::bad_input)? else {
        return Ok(None);
    };
    if dialect.mqtt().is_none() {
        let message = format!(
            "--mqtt: dialect `{}` has no [mqtt], so there is nothing to publish [name one that has \
             with --dialect]",
            dialect.name()
        );
        return Err(Failure::bad_input(message));
    }
    if !broker.is_loopback() {
        eprintln!(
            "coldbed: caution: {broker} is on the network; password and messages cross it unencrypted"
        );
    }
    Ok(Some(broker))
}

/// Says how a host is announced; a dialect that names no printer leaves it to the scenario.
fn announcement(dialect: &Dialect, scenario: &str) -> Announcement {
    let name = Path::new(scenario).file_stem().unwrap_or_default();
    let name = name.to_string_lossy();
    match dialect.announce() {
        Some(plan) => plan.announcement(&name),
        None => Announcement::of(&name),
    }
}

/// Tells a person how things are with the broker.
#[derive(Debug)]
struct BrokerNotes(Broker);

impl Observer for BrokerNotes {
    fn observe(&self, _at: Instant, event: WireEvent) {
        let broker = &self.0;
        match event {
            WireEvent::BrokerConnected { .. } => eprintln!("coldbed: publishing through {broker}"),
            WireEvent::BrokerLost { reason, .. } => {
                eprintln!("coldbed: not publishing through {broker}: {reason}; trying again");
            }
            WireEvent::NotPublished { reason, .. } => {
                eprintln!("coldbed: cannot be published: {reason}");
            }
            _ => {}
        }
    }
}

/// Says what listening beyond this machine means.
fn caution(listen: SocketAddr, encrypted: bool) -> String {
    let key = if encrypted {
        ""
    } else {
        "; the key crosses the network unencrypted"
    };
    format!("{listen} is reachable from other machines{key}")
}

fn own_fault(error: impl Into<Box<dyn std::error::Error>>) -> Failure {
    Failure::new(Outcome::OwnFault, error)
}

/// Is the wish of a person or of the system that the command ends.
pub(super) struct Ending {
    interrupt: Signal,
    terminate: Signal,
}

impl Ending {
    /// Takes over both signals from here on; before that they end the process at once.
    pub(super) fn watch() -> Result<Self, Failure> {
        let take = |kind| signal(kind).map_err(own_fault);
        Ok(Self {
            interrupt: take(SignalKind::interrupt())?,
            terminate: take(SignalKind::terminate())?,
        })
    }

    /// Waits for either signal.
    pub(super) async fn wait(&mut self) {
        tokio::select! {
            _ = self.interrupt.recv() => {}
            _ = self.terminate.recv() => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_key_is_called_unencrypted_only_where_it_is() {
        let listen = SocketAddr::from(([192, 0, 2, 7], 8631));
        let said = "192.0.2.7:8631 is reachable from other machines";
        assert_eq!(caution(listen, true), said);
        let unencrypted = format!("{said}; the key crosses the network unencrypted");
        assert_eq!(caution(listen, false), unencrypted);
    }
}
