//! A host whose push streams go wrong as it is told, for checks with clients that are not ours.
//!
//! Pushes at `/printer/events` (events) and `/printer/socket` (WebSocket), looking every 50 ms at a
//! printer whose clock runs ten times as fast. Prints its URL, then for each line read a line `done`:
//! the line is a fault with its scope as JSON, which takes the place of the one before, or `none`.

use std::io::{BufRead as _, Write as _};
use std::sync::Arc;

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::fault::ScopedFault;
use coldbed_mock::scenario::Scenario;
use coldbed_mock::server::{Clock, Host, HostOptions};
use coldbed_mock::sim::Simulation;

type Failure = Box<dyn std::error::Error>;

const PLAIN: &str = include_str!("../dialects/plain.toml");

const SOCKET: &str = r#"
[[routes]]
method = "GET"
path = "/printer/socket"
push = { form = "websocket", period-ms = 50, ping-s = 1, pong-within-s = 1 }
body = '''"{% include 'printer' %}"'''
"#;

fn main() -> Result<(), Failure> {
    let runtime = tokio::runtime::Runtime::new()?;
    let host = runtime.block_on(host())?;
    say(&host.url())?;
    let mut in_force = None;
    for line in std::io::stdin().lock().lines() {
        // The one before is taken back first.
        drop(in_force.take());
        let line = line?;
        if line != "none" {
            let fault: ScopedFault = serde_json::from_str(&line)?;
            in_force = Some(host.faults().raise(fault));
        }
        say("done")?;
    }
    runtime.block_on(host.stop());
    Ok(())
}

async fn host() -> Result<Host, Failure> {
    let scenario = Scenario::builtin("printing").ok_or("no such scenario")??;
    let simulation = Simulation::new(Arc::new(scenario), 1);
    // What is added stands before the versions, which would take it over.
    let text = PLAIN.replace("period-ms = 500", "period-ms = 50").replacen(
        "[[routes]]",
        &format!("{SOCKET}\n[[routes]]"),
        1,
    );
    let dialect = Arc::new(DialectFile::parse("push-faults", &text)?);
    let mut options = HostOptions::on_loopback(simulation, dialect);
    options.clock = Clock::new(10.0)?;
    Ok(Host::start(options).await?)
}

fn say(line: &str) -> std::io::Result<()> {
    println!("{line}");
    std::io::stdout().flush()
}
