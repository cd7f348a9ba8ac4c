//! Arguments of `serve` for changing what it serves.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;

use super::parse_key;

/// Arguments of the control API.
#[derive(Debug, Args)]
pub struct ControlArgs {
    /// Let truth, clock, faults, drifts and events be read and changed over HTTP while it serves
    /// (docs/control.md), at 127.0.0.1:8632 or where you say. Anything but loopback needs
    /// --control-key.
    #[arg(long, value_name = "ADDR:PORT", num_args = 0..=1, require_equals = true,
          default_missing_value = "127.0.0.1:8632")]
    pub control: Option<SocketAddr>,
    /// Ask whoever changes something for this key (`Authorization: Bearer KEY`).
    #[arg(long, value_name = "KEY", requires = "control", value_parser = parse_key)]
    pub control_key: Option<String>,
    /// Write every change with its virtual time to this file, which must not be there yet.
    #[arg(long, value_name = "FILE")]
    pub control_log: Option<PathBuf>,
    /// Make the changes of such a file again, each at its virtual time. Scenario, seed and dialect
    /// have to be the same; the clock is yours.
    #[arg(long, value_name = "FILE")]
    pub replay_log: Option<PathBuf>,
}
