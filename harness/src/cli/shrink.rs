//! Arguments of `shrink`.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use super::{parse_rate, parse_span};

/// Arguments of `shrink`.
#[derive(Debug, Args)]
pub struct ShrinkArgs {
    /// The session on which the command fails.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The file to write; by default FILE with `.small` before its ending. What was tried is kept beside it,
    /// with `.trials` after its name, so that a second run goes on where this one was ended.
    #[arg(long, value_name = "FILE")]
    pub to: Option<PathBuf>,
    /// It fails if it ends with this exit status; by default with any but 0, or by a signal.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..))]
    pub exit_status: Option<u8>,
    /// It fails if this text stands in what it prints, on either stream.
    #[arg(long, value_name = "TEXT", conflicts_with = "exit_status")]
    pub output: Option<String>,
    /// It fails if a line that it prints matches this regular expression.
    #[arg(long, value_name = "REGEX", conflicts_with_all = ["exit_status", "output"])]
    pub output_matches: Option<String>,
    /// It fails if it breaks this rule of `check --session`, such as session-phase-misread. It prints
    /// sightings then, and a trial takes as long as its polls do.
    #[arg(long, value_name = "ID", conflicts_with_all = ["exit_status", "output", "output_matches"])]
    pub check: Option<String>,
    /// The dialect that the session's answers are read by, for --check.
    #[arg(
        long,
        value_name = "NAME|FILE",
        default_value = "plain",
        requires = "check"
    )]
    pub dialect: String,
    /// What is expected of the session's answers, for --check (see docs/check-session.md).
    #[arg(long, value_name = "FILE", requires = "check")]
    pub expect: Option<PathBuf>,
    /// Seconds of the session per real second. Answers come in order, whatever the pace.
    #[arg(long, default_value_t = 1000.0, value_name = "X", value_parser = parse_rate)]
    pub rate: f64,
    /// How long a trial may last. One that lasts longer has not failed.
    #[arg(long, value_name = "DURATION", default_value = "30s", value_parser = parse_span)]
    pub patience: Duration,
    /// How long the command may still fail after the last answer.
    #[arg(long, value_name = "DURATION", default_value = "1s", value_parser = parse_span)]
    pub grace: Duration,
    /// How many times a candidate must fail, for a failure that depends on chance.
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=20))]
    pub repeats: u8,
    /// How many trials to run side by side; the result does not depend on it.
    #[arg(long, value_name = "N", default_value_t = default_jobs(), hide_default_value = true,
          value_parser = clap::value_parser!(u16).range(1..=100))]
    pub jobs: u16,
    /// What {interval} in the command is.
    #[arg(long, value_name = "DURATION", default_value = "100ms", value_parser = parse_span)]
    pub interval: Duration,
    /// Forget what was tried in an earlier run.
    #[arg(long)]
    pub fresh: bool,
    /// The command with its arguments. {url}, {key} and {interval} are replaced.
    #[arg(last = true, value_name = "COMMAND", required = true)]
    pub command: Vec<String>,
}

fn default_jobs() -> u16 {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    u16::try_from(cores).unwrap_or(100).min(100)
}
