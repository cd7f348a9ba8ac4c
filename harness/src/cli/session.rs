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
    /// Tell what changed between two of one host, such as before and after an update: in structure and in kinds
    /// of values, by JSON Pointer. Ends in exit code 1 if anything did.
    ///
    /// Example: coldbed session diff before.jsonl after.jsonl
    Diff(SessionDiffArgs),
    /// Replace credentials by stand-ins, also where they stand before they are known as such.
    Scrub(SessionScrubArgs),
    /// Make a session of an HTTP Archive (HAR 1.2), which browsers and other tools write, or of a packet
    /// capture (pcap, pcapng) of plain HTTP/1.1.
    Import(SessionImportArgs),
    /// Write it as an HTTP Archive (HAR 1.2). Nothing is lost: `import` gives the same session again.
    Export(SessionExportArgs),
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

/// Arguments of `session diff`.
#[derive(Debug, Args)]
pub struct SessionDiffArgs {
    /// The earlier session.
    #[arg(value_name = "A")]
    pub first: PathBuf,
    /// The later one.
    #[arg(value_name = "B")]
    pub second: PathBuf,
    /// Write them as JSON: a list of objects with `route`, `place`, `what`, `first` and `second`.
    #[arg(long)]
    pub json: bool,
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

/// Arguments of `session import`.
#[derive(Debug, Args)]
pub struct SessionImportArgs {
    /// The archive or the capture; which of the two it is, its content says.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The host to take, if there are several; by default the one with most exchanges. Of an archive its
    /// origin, such as `http://printer.example`, of a capture its address, such as 192.0.2.1.
    #[arg(long, value_name = "URL|ADDRESS")]
    pub host: Option<String>,
    /// The host's port; of a capture only. By default any.
    #[arg(long, value_name = "PORT")]
    pub port: Option<u16>,
    /// The file to write. It is replaced as a whole, or not touched.
    #[arg(long, value_name = "FILE")]
    pub to: PathBuf,
}

/// Arguments of `session export`.
#[derive(Debug, Args)]
pub struct SessionExportArgs {
    /// The session.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The file to write. It is replaced as a whole, or not touched.
    #[arg(long, value_name = "FILE.har")]
    pub to: PathBuf,
}
