//! What was owed and what was seen, for each rule that was broken.

use super::super::legible::legible;
use super::super::{CheckReport, Verdict};
use super::Look;

/// So many subjects are told of a check that was broken at several (own choice: all are in the
/// reports for machines).
const SUBJECTS_SHOWN: usize = 4;

/// Writes what was owed and what was seen for each rule that was broken.
pub fn details(checks: &[CheckReport], look: Look) -> String {
    let broken = checks.iter().filter(|check| check.verdict().is_broken());
    broken.map(|check| detail(check, look)).collect()
}

fn detail(check: &CheckReport, look: Look) -> String {
    let level = check.level.word();
    let standing = match check.verdict() {
        Verdict::Unsteady => ", unsteady: not broken again",
        Verdict::Known => ", known from the baseline",
        _ => "",
    };
    let mut text = format!("\n{} ({level}{standing})\n", look.bold(&check.id));
    let mut row = |label: &str, words: &str| {
        text.push_str(&look.wrapped(&format!("  {label:8}  "), &legible(words)));
    };
    row("required", &check.requirement);
    row("source", &check.source);
    let provoked = match check.scenario.as_str() {
        // On a recorded session there is none.
        "" => check.provoked.clone(),
        scenario => format!("{}, on scenario {scenario}", check.provoked),
    };
    row("provoked", &provoked);
    let subjects = check.by_subject();
    for violations in subjects.iter().take(SUBJECTS_SHOWN) {
        let first = violations[0];
        if let Some(subject) = &first.subject {
            row("about", subject);
        }
        row("allowed", &first.allowed);
        row("observed", &first.observed);
        let more = match violations.len() - 1 {
            0 => String::new(),
            more => format!(", and {more} more of the same"),
        };
        row(
            "moment",
            &format!("{:.2} s into the run{more}", first.at_seconds),
        );
    }
    if let Some(more) = subjects.len().checked_sub(SUBJECTS_SHOWN + 1) {
        let words = format!(
            "{} more [all are in --report json=FILE and html=FILE]",
            more + 1
        );
        row("and", &words);
    }
    text
}
