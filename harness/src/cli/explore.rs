//! What `check` judges besides or instead of the catalogue.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use super::parse_span;

const HEADING: &str = "Beyond the catalogue";

/// Arguments of `check` for scenarios with troubles of their own, and for generated ones.
#[derive(Debug, Default, Args)]
pub struct ExploreArgs {
    /// Judge the watcher while this scenario plays, with the faults and drifts of its timeline: a
    /// built-in name or a file. Instead of the catalogue; with --only besides the checks named there.
    #[arg(long, help_heading = HEADING, value_name = "NAME|FILE", conflicts_with_all = ["list", "part"])]
    pub scenario: Option<String>,
    /// How much virtual time passes in one poll interval. By default so much that the scenario is
    /// through in about a minute.
    #[arg(long, help_heading = HEADING, value_name = "DURATION", value_parser = parse_pace, requires = "scenario")]
    pub per_poll: Option<Duration>,
    /// Judge the watcher under so many generated plans of one to four faults and drifts, instead of the
    /// catalogue. A plan that fails is made as small as it still fails, and saved as a scenario file.
    ///
    /// The same seed gives the same plans. Docs: docs/explore.md
    #[arg(long, help_heading = HEADING, value_name = "N", conflicts_with_all = ["list", "part", "only", "scenario"],
          value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub explore: Option<u32>,
    /// Where failing plans are saved.
    #[arg(long, help_heading = HEADING, value_name = "DIR", default_value = ".", requires = "explore")]
    pub save: PathBuf,
    /// How many smaller plans are tried for one that fails, each as often as --repeats says and once
    /// more; 0 saves it as it is.
    #[arg(long, help_heading = HEADING, value_name = "N", default_value_t = 24, requires = "explore",
          value_parser = clap::value_parser!(u16).range(0..=1000))]
    pub shrink_runs: u16,
}

fn parse_pace(text: &str) -> Result<Duration, String> {
    match parse_span(text) {
        Ok(span) if span.is_zero() => Err("a scenario that stands still has no end".to_owned()),
        other => other,
    }
}
