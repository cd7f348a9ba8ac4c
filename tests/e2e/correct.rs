//! What a report may say of a correct watcher.

use std::process::Output;

use serde::Deserialize;

use crate::common::{stderr, stdout};

/// Lets `check` write the report that is read here: the lines for people are cut to the width of a page.
pub(crate) const AS_JSON: [&str; 2] = ["--report", "json=-"];

/// What none of these watchers gives occasion to, or what is not told from garbage or from too few
/// polls on a busy machine: no verdict then, and the reason is in the report.
const SELDOM_JUDGED: [&str; 8] = [
    "unasked-not-modified",
    "silent-stream",
    "stream-closed",
    "unsafe-request-retried",
    "memory-grows",
    "open-files-grow",
    "open-files-grow-with-failures",
    "wrong-after-many-polls",
];

/// A busy machine may make a result change; that accuses nobody, and more than so many of a catalogue
/// would be odd: of a few checks, any.
const MOST_OPEN: usize = 4;
const OF_SO_MANY: usize = 40;

#[derive(Deserialize)]
struct Report {
    checks: Vec<Check>,
}

#[derive(Deserialize)]
struct Check {
    id: String,
    outcome: String,
    #[serde(default)]
    reason: String,
}

/// Is what a report says.
struct Read {
    passed: usize,
    open: Vec<String>,
    most_open: usize,
}

/// Asserts that nothing failed, and that nothing is lacking or was skipped but what may be. What a busy
/// machine left open is judged once more, by itself. Both reports are asked for with [`AS_JSON`].
/// Gives how many checks passed.
pub(crate) fn assert_passes_all_but(
    output: &Output,
    judge_again: impl Fn(&[&str]) -> Output,
    may_be_skipped: &[&str],
    may_lack: &[&str],
) -> usize {
    let first = read(output, may_be_skipped, may_lack);
    if first.open.len() <= first.most_open {
        return first.passed;
    }
    let only: Vec<&str> = first.open.iter().flat_map(|id| ["--only", id]).collect();
    let again = judge_again(&only);
    let second = read(&again, may_be_skipped, may_lack);
    let still = &second.open;
    let reports = || stdout(output) + &stdout(&again);
    assert!(still.len() <= first.most_open, "{still:?}\n{}", reports());
    first.passed + second.passed
}

/// Asserts the same of one report.
fn read(output: &Output, may_be_skipped: &[&str], may_lack: &[&str]) -> Read {
    let text = stdout(output);
    assert_eq!(output.status.code(), Some(0), "{text}{}", stderr(output));
    let report: Report = serde_json::from_str(&text).unwrap();
    let (mut passed, mut open) = (0, Vec::new());
    for check in &report.checks {
        let Check { id, reason, .. } = check;
        let told = || format!("{id}: {}, {reason}\n{text}", check.outcome);
        match check.outcome.as_str() {
            "passed" => passed += 1,
            "unsteady" => open.push(id.clone()),
            // So late that nothing could be judged by it.
            "skipped" if reason.contains("the machine was too slow") => open.push(id.clone()),
            "skipped" => {
                let may = [may_be_skipped, &SELDOM_JUDGED].concat();
                assert!(may.contains(&id.as_str()), "{}", told());
            }
            "lacks" => assert!(may_lack.contains(&id.as_str()), "{}", told()),
            _ => panic!("{}", told()),
        }
    }
    Read {
        passed,
        open,
        most_open: MOST_OPEN * report.checks.len().min(OF_SO_MANY) / OF_SO_MANY,
    }
}
