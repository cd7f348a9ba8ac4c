//! Arguments of `check` for what becomes of the verdicts.

use std::path::PathBuf;

use clap::Args;

use crate::report::Wanted;

/// Arguments for reports and baselines.
#[derive(Debug, Clone, Default, Args)]
pub struct ReportArgs {
    /// Write a report, too; may be given several times. FORMAT is json, junit (JUnit XML), tap (TAP
    /// 14) or html (one page with plots and bytes of what failed). FILE is replaced as a whole; `-` is
    /// standard output, in place of the lines for people.
    #[arg(long, value_name = "FORMAT=FILE")]
    pub report: Vec<Wanted>,
    /// The json report of an earlier run: what was broken there is known, and fails nothing now. May
    /// be given several times, such as once for each part.
    #[arg(long, value_name = "FILE")]
    pub baseline: Vec<PathBuf>,
}
