//! The Test Anything Protocol, version 14 (from memory).

use std::fmt::Write as _;

use serde_json::{Map, Value, json};

use super::legible::legible;
use super::{CheckReport, Report, Verdict};

/// Writes the report as TAP 14: a test point for each check, and a diagnostic block where a rule was
/// broken.
///
/// A `TODO` test may fail without failing the whole: so are a broken should, an unsteady result and
/// what the baseline knows.
pub fn tap(report: &Report) -> String {
    let mut text = format!("TAP version 14\n1..{}\n", report.checks.len());
    for (number, check) in (1..).zip(&report.checks) {
        point(&mut text, number, check);
    }
    text
}

fn point(text: &mut String, number: usize, check: &CheckReport) {
    let (ok, directive) = match check.verdict() {
        Verdict::Passed | Verdict::Mended => ("ok", String::new()),
        Verdict::Failed => ("not ok", String::new()),
        Verdict::Lacks => ("not ok", " # TODO a should that is lacking".to_owned()),
        Verdict::Unsteady => ("not ok", " # TODO unsteady".to_owned()),
        Verdict::Known => ("not ok", " # TODO known from the baseline".to_owned()),
        Verdict::Skipped => ("ok", format!(" # SKIP {}", escaped(&check.reason))),
    };
    // Writing to a string cannot fail.
    let _ = writeln!(text, "{ok} {number} - {}{directive}", escaped(&check.id));
    if check.verdict().is_broken() {
        diagnostics(text, check);
    }
}

/// Writes the block of diagnostics. Each value is written as JSON, which is YAML, too (YAML 1.2
/// section 1.2).
fn diagnostics(text: &mut String, check: &CheckReport) {
    text.push_str("  ---\n");
    let rows = [
        ("level", check.level.word()),
        ("area", check.area.word()),
        ("requirement", &check.requirement),
        ("source", &check.source),
        ("scenario", &check.scenario),
    ];
    for (key, value) in rows {
        let _ = writeln!(text, "  {key}: {}", yaml(value));
    }
    text.push_str("  violations:\n");
    for violation in &check.violations {
        let mut object = Map::new();
        if let Some(subject) = &violation.subject {
            object.insert("subject".to_owned(), legible(subject).into());
        }
        object.insert("allowed".to_owned(), legible(&violation.allowed).into());
        object.insert("observed".to_owned(), legible(&violation.observed).into());
        object.insert("at-seconds".to_owned(), json!(violation.at_seconds));
        let mut dash = "-";
        for (key, value) in object {
            let _ = writeln!(text, "    {dash} {key}: {value}");
            dash = " ";
        }
    }
    text.push_str("  ...\n");
}

fn yaml(text: &str) -> Value {
    legible(text).into()
}

/// Keeps a text on its line, and what begins a directive from beginning one.
fn escaped(text: &str) -> String {
    legible(text).replace('\\', "\\\\").replace('#', "\\#")
}
