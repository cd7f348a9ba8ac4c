//! `coldbed serve`.

use std::sync::Arc;

use coldbed_mock::scenario::Scenario;
use coldbed_mock::server::{Clock, Host, HostOptions};
use coldbed_mock::sim::{Simulation, VirtualTime};
use tokio::signal::unix::{SignalKind, signal};

use super::{Failure, dialect, read};
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
    println!("listening on {}", host.url());
    asked_to_end().await;
    host.stop().await;
    Ok(Outcome::Done)
}

fn scenario(name_or_file: &str) -> Result<Arc<Scenario>, Failure> {
    let scenario = match Scenario::builtin(name_or_file) {
        Some(scenario) => scenario,
        None => Scenario::parse(name_or_file, &read("scenario", name_or_file)?),
    };
    scenario.map(Arc::new).map_err(Failure::bad_input)
}

/// Waits for the interrupt or the termination signal.
pub(super) async fn asked_to_end() {
    let (Ok(mut interrupt), Ok(mut terminate)) = (
        signal(SignalKind::interrupt()),
        signal(SignalKind::terminate()),
    ) else {
        // Without handlers the signals end the process by themselves.
        return std::future::pending().await;
    };
    tokio::select! {
        _ = interrupt.recv() => {}
        _ = terminate.recv() => {}
    }
}
