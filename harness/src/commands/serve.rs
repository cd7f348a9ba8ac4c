//! `coldbed serve`.

use coldbed_mock::server::{Clock, Host, HostOptions};
use coldbed_mock::sim::{Simulation, VirtualTime};
use tokio::signal::unix::{Signal, SignalKind, signal};

use super::{Failure, dialect, scenario};
use crate::cli::ServeArgs;
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
            "coldbed: caution: {} is reachable from other machines; the key crosses the network unencrypted",
            args.listen
        );
    }
    let scenario = scenario(&args.scenario)?;
    let mut simulation = Simulation::new(scenario, args.seed);
    let from = VirtualTime::new(args.from);
    simulation.advance_to(from.tick());
    let clock = Clock::paused_at(from);
    clock.set_rate(args.rate).map_err(Failure::bad_input)?;
    clock.resume();
    let host = Host::start(HostOptions {
        simulation,
        dialect: dialect(&args.dialect)?,
        key: args.key,
        listen: args.listen,
        clock,
        observer: None,
    })
    .await
    // A port in use or a foreign address is something to be put right on the command line.
    .map_err(Failure::bad_input)?;
    // Whoever reads the line may send a signal at once.
    let mut ending = Ending::watch()?;
    println!("listening on {}", host.url());
    ending.wait().await;
    host.stop().await;
    Ok(Outcome::Done)
}

/// Is the wish of a person or of the system that the command ends.
pub(super) struct Ending {
    interrupt: Signal,
    terminate: Signal,
}

impl Ending {
    /// Takes over both signals from here on; before that they end the process at once.
    pub(super) fn watch() -> Result<Self, Failure> {
        let take = |kind| signal(kind).map_err(|error| Failure::new(Outcome::OwnFault, error));
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
