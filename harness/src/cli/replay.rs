//! Arguments of `replay`.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, ValueEnum};

use super::{parse_rate, parse_span};

/// Arguments of `replay`.
#[derive(Debug, Args)]
pub struct ReplayArgs {
    /// The session.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Where to listen. Port 0 picks a free one.
    #[arg(long, default_value = "127.0.0.1:8631", value_name = "ADDR:PORT")]
    pub listen: SocketAddr,
    /// Speak TLS, and write the certificate of the authority that the watcher is to trust to this file
    /// as PEM.
    #[arg(long, value_name = "FILE")]
    pub tls: Option<PathBuf>,
    /// Seconds of the session per real second.
    #[arg(long, default_value_t = 1.0, value_name = "X", value_parser = parse_rate)]
    pub rate: f64,
    /// The moment of the session to start at, such as 1h20m.
    #[arg(long, default_value = "0s", value_name = "DURATION", value_parser = parse_span)]
    pub from: Duration,
    /// Which recorded answer a request gets.
    #[arg(long = "match", value_enum, default_value_t = Match::Time)]
    pub matching: Match,
    /// What a request gets, in order, for which no answer is left.
    #[arg(long, value_enum, default_value_t = End::Repeat)]
    pub at_end: End,
}

/// Which recorded answer a request gets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Match {
    /// What the host said then, whatever the pace of the client.
    Time,
    /// The n-th request for a target gets the n-th answer.
    InOrder,
}

/// What comes after the last answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum End {
    /// The last answer again.
    Repeat,
    /// 404.
    NotFound,
}
