//! Arguments of `session`.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, Subcommand};

use super::parse_span;
use super::redact::RedactArgs;

/// Arguments of `session`.
#[derive(Debug, Args)]
pub struct SessionArgs {
    /// What to do with it.
    #[command(subcommand)]
    pub command: SessionCommand,
}

/// What to do with a session.
#[derive(Debug, Subcommand)]
pub enum SessionCommand {
    /// Show its exchanges as a table, over time, or one in full.
    Show(SessionShowArgs),
    /// Take out a part of it.
    Cut(SessionCutArgs),
    /// Replace credentials by stand-ins, also where they stand before they are known as such.
    Scrub(SessionScrubArgs),
}

/// Arguments of `session show`.
#[derive(Debug, Args)]
pub struct SessionShowArgs {
    /// The session.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Show when connections were open and what happened on them.
    #[arg(long, conflicts_with = "exchange")]
    pub timeline: bool,
    /// Show this exchange in full.
    #[arg(long, value_name = "N")]
    pub exchange: Option<u64>,
}

/// Arguments of `session cut`.
#[derive(Debug, Args)]
pub struct SessionCutArgs {
    /// The session.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The first moment to keep, such as 1h20m. It is the new beginning: all times are counted from it.
    #[arg(long, default_value = "0s", value_name = "DURATION", value_parser = parse_span)]
    pub from: Duration,
    /// The last moment to keep; by default the end.
    #[arg(long, value_name = "DURATION", value_parser = parse_span)]
    pub until: Option<Duration>,
    /// The file to write. It is replaced as a whole, or not touched.
    #[arg(long, value_name = "FILE")]
    pub to: PathBuf,
}

/// Arguments of `session scrub`.
#[derive(Debug, Args)]
pub struct SessionScrubArgs {
    /// The session.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The file to write. It is replaced as a whole, or not touched.
    #[arg(long, value_name = "FILE")]
    pub to: PathBuf,
    /// What is replaced besides.
    #[command(flatten)]
    pub redact: RedactArgs,
}
