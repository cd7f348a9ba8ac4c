//! The arguments of `coldbed check` that are about the watcher.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use super::{parse_key, parse_span};

/// Which watcher, and whether only to look at what it says.
#[derive(Debug, Args)]
pub struct WatcherArgs {
    /// A watcher file: how the watcher is started and how its sightings are understood, for one that
    /// does not print the standard form. See docs/watcher-files.md.
    #[arg(long, value_name = "FILE", conflicts_with = "command")]
    pub watcher: Option<PathBuf>,
    /// Judge a device that polls by itself, such as a board on the desk: nothing is started, the mock
    /// stays at one address, and what is to be done with the device is told in order. With a watcher
    /// file that has no command its claims are judged, too; else only its requests.
    #[arg(long, conflicts_with_all = ["command", "jobs"])]
    pub attach: bool,
    /// Where an attached device finds the mock. Anything but loopback needs --key.
    #[arg(
        long,
        value_name = "ADDR:PORT",
        default_value = "127.0.0.1:8631",
        requires = "attach"
    )]
    pub listen: SocketAddr,
    /// The key that an attached device has.
    #[arg(long, value_name = "KEY", requires = "attach", value_parser = parse_key)]
    pub key: Option<String>,
    /// How long an attached device may take until it asks for the first time, and after a change.
    #[arg(long, value_name = "DURATION", default_value = "10m", value_parser = parse_span,
          requires = "attach")]
    pub patience: Duration,
    /// Judge nothing: show each line of the watcher with what is understood of it, beside what the
    /// mock serves. Ends in exit code 0 if anything was understood, else in 3.
    ///
    /// Example: coldbed check --watcher display.toml --try --for 20s
    #[arg(long = "try", conflicts_with_all = ["only", "list", "part"])]
    pub try_: bool,
    /// How long to try.
    #[arg(long = "for", default_value = "30s", value_name = "DURATION", value_parser = parse_span,
          requires = "try_")]
    pub for_: Duration,
}
