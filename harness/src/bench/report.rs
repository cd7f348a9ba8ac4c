//! What came of it.

use std::fmt;

use crate::check::{Check, Level};
use crate::report::terminal::{self, Lines, Look};
use crate::report::{CheckReport, Counts};
use crate::run::{Calibration, CheckResult, Outcome};

/// Is what a bench found.
#[derive(Debug, Clone)]
pub struct BenchReport {
    /// What was measured before anything was judged.
    pub calibration: Calibration,
    /// What came of each check, in the order of the catalogue.
    pub results: Vec<CheckResult>,
}

impl BenchReport {
    /// Gives what came of the check with this id; `None` if it was not asked for.
    pub fn outcome(&self, id: &str) -> Option<&Outcome> {
        let mut results = self.results.iter();
        let result = results.find(|result| result.check.id == id)?;
        Some(&result.outcome)
    }

    /// Tells whether every must is kept, as far as it could be judged.
    pub fn holds(&self) -> bool {
        !self.results.iter().any(breaks_a_must)
    }

    /// Does nothing if every must is kept and at least one rule was.
    ///
    /// # Panics
    /// With what was owed and what was seen where a must is broken; and where nothing could be judged,
    /// since that is no success.
    #[track_caller]
    pub fn assert(&self) {
        let is_passed = |result: &CheckResult| matches!(result.outcome, Outcome::Passed { .. });
        assert!(self.holds(), "the watcher breaks a rule\n\n{self}");
        assert!(
            self.results.iter().any(is_passed),
            "nothing was judged\n\n{self}"
        );
    }
}

impl fmt::Display for BenchReport {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let look = Look::new(WIDTH, false);
        let checks: Vec<Check> = self.results.iter().map(|result| result.check).collect();
        let told: Vec<CheckReport> = self.results.iter().map(CheckReport::of).collect();
        let mut lines = Lines::of(&checks, look);
        for check in &told {
            f.write_str(&lines.next(check))?;
        }
        f.write_str(&terminal::details(&told, look))?;
        f.write_str(&terminal::summary(Counts::of(&told)))
    }
}

/// How wide the message of a panic is written: nobody knows what it is read in.
const WIDTH: usize = 100;

fn breaks_a_must(result: &CheckResult) -> bool {
    result.check.level == Level::Must && matches!(result.outcome, Outcome::Failed(_))
}
