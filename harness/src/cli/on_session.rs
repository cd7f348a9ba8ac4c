//! The arguments of `coldbed check` that are about a recorded session.

use std::path::PathBuf;

use clap::Args;

use super::{ReplayMatch, parse_rate_above_zero};

const HEADING: &str = "On a recorded session";

/// The session that a watcher is judged on.
#[derive(Debug, Args)]
pub struct OnSessionArgs {
    /// Judge on this recorded session instead of the catalogue: the watcher's claims are held against
    /// what the dialect reads in the recorded answers. See docs/check-session.md.
    ///
    /// Example: coldbed check --session night.jsonl --interval 200ms -- python3 watch.py {url} {key}
    #[arg(long, help_heading = HEADING, value_name = "FILE",
          conflicts_with_all = ["list", "part", "jobs", "board", "scenario", "explore", "attach", "try_"])]
    pub session: Option<PathBuf>,
    /// What is expected of the session's answers, where the dialect says it wrong or not at all (TOML).
    #[arg(long, help_heading = HEADING, value_name = "FILE", requires = "session")]
    pub expect: Option<PathBuf>,
    /// Which recorded answer a request gets: the next one for its target, or that of the moment.
    #[arg(long = "match", help_heading = HEADING, value_name = "HOW", value_enum, default_value = "in-order",
          requires = "session")]
    pub matching: ReplayMatch,
    /// Recorded seconds per real second: of the pauses within an answer, and of all with --match time.
    #[arg(long, help_heading = HEADING, value_name = "X", default_value_t = 1.0, value_parser = parse_rate_above_zero,
          requires = "session")]
    pub rate: f64,
}
