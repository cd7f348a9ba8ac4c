//! What shows that a rule was broken: the violation, a plot, what crossed the wire.

use std::time::Duration;

use serde::Serialize;

use super::super::{CheckReport, ViolationReport};
use super::log::{Entry, entries, last_lines};
use super::plot::{Plot, Window};
use crate::oracle::Verdict;
use crate::run::{Attempt, CheckResult};

/// So many subjects of a check have a plot (own choice: a page of megabytes helps nobody).
const PLOTTED: usize = 2;
/// So many more violations are told in a table.
const TOLD: usize = 100;

/// Is a violation with what shows it.
#[derive(Debug, Serialize)]
pub(super) struct Evidence {
    subject: String,
    allowed: String,
    observed: String,
    at: String,
    again: usize,
    plot: Option<Plot>,
    log: Vec<Entry>,
    lines: Vec<(String, String, String)>,
}

impl Evidence {
    /// Gives the first violations of a check with what shows them, and the rest.
    pub(super) fn of<'a>(
        check: &'a CheckReport,
        result: Option<&CheckResult>,
    ) -> (Vec<Self>, Vec<&'a ViolationReport>) {
        let broken = |attempt: &&Attempt| matches!(attempt.verdict, Verdict::Violated(_));
        let attempt = result.and_then(|result| result.attempts.iter().find(broken));
        let subjects = check.by_subject();
        let (shown, rest) = subjects.split_at(PLOTTED.min(subjects.len()));
        let again = shown.iter().flat_map(|group| &group[1..]);
        let more = again.chain(rest.iter().flatten()).take(TOLD).copied();
        let evidence = shown.iter().map(|group| match (attempt, result) {
            (Some(attempt), Some(result)) => Self::with(group, attempt, result),
            _ => Self::bare(group),
        });
        (evidence.collect(), more.collect())
    }

    fn bare(group: &[&ViolationReport]) -> Self {
        let violation = group[0];
        Self {
            subject: violation.subject.clone().unwrap_or_default(),
            allowed: violation.allowed.clone(),
            observed: violation.observed.clone(),
            at: format!("{:.2}", violation.at_seconds),
            again: group.len() - 1,
            plot: None,
            log: Vec::new(),
            lines: Vec::new(),
        }
    }

    fn with(group: &[&ViolationReport], attempt: &Attempt, result: &CheckResult) -> Self {
        let violation = group[0];
        let at = Duration::try_from_secs_f64(violation.at_seconds).unwrap_or_default();
        let window = Window::around(at, &attempt.timing, &attempt.events);
        Self {
            plot: Plot::of(&attempt.events, window, violation, result.check.needs),
            log: entries(&attempt.events, at, &attempt.timing),
            lines: last_lines(&attempt.events, at),
            ..Self::bare(group)
        }
    }
}
