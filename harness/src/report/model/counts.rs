//! How many checks came out how.

use std::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{CheckReport, Verdict};

/// Is how many checks came out how; each is counted once, the mended ones among the passed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Counts {
    /// Rules that were kept.
    pub passed: usize,
    /// Musts that are broken and are not known from the baseline.
    pub failed: usize,
    /// Checks without anything to judge by.
    pub skipped: usize,
    /// Shoulds that are broken and are not known from the baseline.
    pub lacks: usize,
    /// Rules that were broken in one run and kept in another.
    pub unsteady: usize,
    /// Rules that are broken as in the baseline.
    pub known: usize,
    /// Rules that are kept and were broken in the baseline; counted among the passed, too.
    pub mended: usize,
}

impl Counts {
    /// Counts checks.
    pub fn of<'a>(checks: impl IntoIterator<Item = &'a CheckReport>) -> Self {
        let mut counts = Self::default();
        for check in checks {
            match check.verdict() {
                Verdict::Passed => counts.passed += 1,
                Verdict::Mended => {
                    counts.passed += 1;
                    counts.mended += 1;
                }
                Verdict::Failed => counts.failed += 1,
                Verdict::Lacks => counts.lacks += 1,
                Verdict::Unsteady => counts.unsteady += 1,
                Verdict::Known => counts.known += 1,
                Verdict::Skipped => counts.skipped += 1,
            }
        }
        counts
    }
}

impl fmt::Display for Counts {
    /// Always begins with `N passed, N failed, N skipped`, so that scripts can rely on it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            passed,
            failed,
            skipped,
            ..
        } = self;
        write!(f, "{passed} passed, {failed} failed, {skipped} skipped")?;
        let others = [
            (self.lacks, "lacking (shoulds)"),
            (self.unsteady, "unsteady"),
            (self.known, "known from the baseline"),
            (self.mended, "mended"),
        ];
        let mut mark = "; ";
        for (count, word) in others.into_iter().filter(|(count, _)| *count > 0) {
            write!(f, "{mark}{count} {word}")?;
            mark = ", ";
        }
        Ok(())
    }
}
