//! The report a person reads in a terminal: plain text, one line a check.

use std::fmt::Write as _;
use std::time::Duration;

use crate::check::{Check, Level};
use crate::oracle::Violation;
use crate::run::{Calibration, CheckResult, Outcome};

/// Says what was measured before anything was judged.
pub fn heading(calibration: &Calibration, checks: usize, seed: u64) -> String {
    let timing = &calibration.timing;
    format!(
        "the watcher asks every {} (at most {}); {checks} checks, seed {seed}\n\n",
        seconds(timing.interval),
        seconds(timing.longest_interval),
    )
}

/// Writes one check's verdict as one line.
pub fn line(result: &CheckResult, width: usize) -> String {
    let id = result.check.id;
    let (word, words) = match &result.outcome {
        Outcome::Passed { note } => ("passed", note.as_str()),
        Outcome::Failed(_) => ("FAILED", result.check.requirement),
        Outcome::Unsteady(_) => ("unsteady", result.check.requirement),
        Outcome::Skipped { reason } => ("skipped", reason.as_str()),
    };
    format!("{word:8}  {id:width$}  {words}\n")
}

/// Writes what was owed and what was seen for each check that failed.
pub fn details(results: &[CheckResult]) -> String {
    let mut text = String::new();
    for result in results {
        if let Outcome::Failed(violations) | Outcome::Unsteady(violations) = &result.outcome {
            for violation in violations {
                detail(&mut text, &result.check, violation);
            }
        }
    }
    text
}

fn detail(text: &mut String, check: &Check, violation: &Violation) {
    let level = match check.level {
        Level::Must => "must",
        Level::Should => "should",
    };
    let about = match &violation.subject {
        Some(subject) => format!("  about     {subject}\n"),
        None => String::new(),
    };
    // Writing to a string cannot fail.
    let _ = write!(
        text,
        "\n{id} ({level})\n{about}  required  {requirement}\n  source    {source}\n  allowed   {allowed}\n  \
         observed  {observed}\n  moment    {at} into the run on scenario {scenario}\n",
        id = check.id,
        requirement = check.requirement,
        source = check.source,
        allowed = violation.allowed,
        observed = violation.observed,
        at = seconds(violation.at),
        scenario = check.scenario,
    );
}

/// Counts the verdicts in one line.
pub fn summary(results: &[CheckResult]) -> String {
    let count = |wanted: fn(&Outcome) -> bool| {
        results
            .iter()
            .filter(|result| wanted(&result.outcome))
            .count()
    };
    let passed = count(|outcome| matches!(outcome, Outcome::Passed { .. }));
    let failed = count(|outcome| matches!(outcome, Outcome::Failed(_)));
    let unsteady = count(|outcome| matches!(outcome, Outcome::Unsteady(_)));
    let skipped = count(|outcome| matches!(outcome, Outcome::Skipped { .. }));
    let unsteady = match unsteady {
        0 => String::new(),
        some => format!("{some} unsteady, "),
    };
    format!("\n{passed} passed, {failed} failed, {unsteady}{skipped} skipped\n")
}

/// Lists checks with what they ask for.
pub fn list(checks: &[Check]) -> String {
    let width = checks.iter().map(|check| check.id.len()).max().unwrap_or(0);
    checks.iter().fold(String::new(), |mut text, check| {
        let _ = writeln!(text, "{:width$}  {}", check.id, check.requirement);
        text
    })
}

/// Tells whether a result fails the watcher.
pub fn breaks_a_must(result: &CheckResult) -> bool {
    result.check.level == Level::Must && matches!(result.outcome, Outcome::Failed(_))
}

fn seconds(span: Duration) -> String {
    format!("{:.2} s", span.as_secs_f64())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::catalogue;

    #[test]
    fn a_failure_tells_what_is_owed_and_what_was_seen_and_a_skip_tells_why() {
        let checks = catalogue();
        let result = |index: usize, outcome| CheckResult {
            check: checks[index],
            outcome,
            attempts: Vec::new(),
        };
        let results = [
            result(
                0,
                Outcome::Passed {
                    note: "23 claims of phase".to_owned(),
                },
            ),
            result(
                5,
                Outcome::Failed(vec![Violation {
                    subject: None,
                    at: Duration::from_millis(8130),
                    allowed: "phase cancelled, as served until 1.31 s before".to_owned(),
                    observed: "phase finished".to_owned(),
                }]),
            ),
            result(
                checks
                    .iter()
                    .position(|check| check.id == "progress")
                    .unwrap(),
                Outcome::Skipped {
                    reason: "the watcher does not report progress-percent".to_owned(),
                },
            ),
        ];
        let lines: String = results.iter().map(|result| line(result, 22)).collect();
        insta::assert_snapshot!(lines + &details(&results) + &summary(&results));
        assert!(breaks_a_must(&results[1]) && !breaks_a_must(&results[2]));
    }
}
