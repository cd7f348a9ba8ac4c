//! What the page shows, as one value for its template.

use serde::Serialize;

use super::super::legible::shortened;
use super::super::{AttemptVerdict, CheckReport, Report, Verdict};
use super::evidence::Evidence;
use crate::check::Area;
use crate::run::CheckResult;

/// Longer notes are cut; they are whole in the JSON report (own choice).
const NOTE_SIGNS: usize = 400;

/// Is the page.
#[derive(Debug, Serialize)]
pub(super) struct Page {
    title: String,
    verdict: String,
    counts: String,
    facts: Vec<(String, String)>,
    filters: Vec<Filter>,
    areas: Vec<AreaRows>,
    broken: Vec<Broken>,
}

/// Is a button that shows the checks of one verdict.
#[derive(Debug, Serialize)]
struct Filter {
    word: &'static str,
    class: &'static str,
    count: usize,
}

/// Is the part of the table that belongs to an area.
#[derive(Debug, Serialize)]
struct AreaRows {
    word: &'static str,
    about: &'static str,
    rows: Vec<Row>,
}

/// Is one check in the table.
#[derive(Debug, Serialize)]
struct Row {
    word: &'static str,
    class: &'static str,
    id: String,
    is_broken: bool,
    level: &'static str,
    requirement: String,
    words: String,
    took: String,
}

/// Is a rule that was broken, with what shows it.
#[derive(Debug, Serialize)]
struct Broken {
    word: &'static str,
    class: &'static str,
    id: String,
    level: &'static str,
    facts: Vec<(&'static str, String)>,
    attempts: Vec<(String, String, String)>,
    evidence: Vec<Evidence>,
    more: Vec<More>,
}

/// Is a violation that is told without a plot.
#[derive(Debug, Serialize)]
struct More {
    subject: String,
    allowed: String,
    observed: String,
    at: String,
}

impl Page {
    pub(super) fn of(report: &Report, results: &[CheckResult]) -> Self {
        let checks = &report.checks;
        let of_area = |area: Area| {
            let rows = checks.iter().filter(|check| check.area == area);
            AreaRows {
                word: area.word(),
                about: area.about(),
                rows: rows.map(Row::of).collect(),
            }
        };
        let areas = Area::ALL.into_iter().map(of_area);
        let broken = checks.iter().filter(|check| check.verdict().is_broken());
        Self {
            title: format!("coldbed check: {}", report.watcher),
            verdict: verdict_of(report),
            counts: report.counts.to_string(),
            facts: facts(report),
            filters: filters(checks),
            areas: areas.filter(|area| !area.rows.is_empty()).collect(),
            broken: broken.map(|check| Broken::of(check, results)).collect(),
        }
    }
}

fn verdict_of(report: &Report) -> String {
    let words = match (report.is_failure(), report.counts.known) {
        (true, _) => "The watcher breaks what it must keep.",
        (false, 0) => "The watcher keeps every must that could be judged.",
        (false, _) => "The watcher breaks no must that the baseline does not know.",
    };
    words.to_owned()
}

fn facts(report: &Report) -> Vec<(String, String)> {
    let measured = &report.calibration;
    let mut facts = vec![
        ("watcher", report.watcher.clone()),
        ("dialect", report.dialect.clone()),
        ("seed", report.seed.to_string()),
        (
            "asks",
            format!(
                "every {:.2} s, at most {:.2} s",
                measured.interval_seconds, measured.longest_interval_seconds
            ),
        ),
        (
            "an answer counts for",
            format!("{:.2} s", measured.freshness_seconds),
        ),
        ("reports", measured.reported.join(", ")),
        ("coldbed", report.coldbed.clone()),
    ];
    if let Some(part) = &report.part {
        facts.push(("part", part.clone()));
    }
    let named = facts.into_iter();
    named
        .map(|(name, value)| (name.to_owned(), value))
        .collect()
}

fn filters(checks: &[CheckReport]) -> Vec<Filter> {
    let all = [
        Verdict::Failed,
        Verdict::Lacks,
        Verdict::Unsteady,
        Verdict::Known,
        Verdict::Mended,
        Verdict::Passed,
        Verdict::Skipped,
    ];
    let filter = |verdict: Verdict| Filter {
        word: verdict.word(),
        class: class(verdict),
        count: checks
            .iter()
            .filter(|check| check.verdict() == verdict)
            .count(),
    };
    let filters = all.into_iter().map(filter);
    filters.filter(|filter| filter.count > 0).collect()
}

/// Gives the class of a verdict in the style sheet.
fn class(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Failed => "failed",
        other => other.word(),
    }
}

impl Row {
    fn of(check: &CheckReport) -> Self {
        let verdict = check.verdict();
        let words = match verdict {
            Verdict::Skipped => &check.reason,
            _ => &check.note,
        };
        let took = match check.attempts.len() {
            0 => "not run".to_owned(),
            1 => format!("{:.1} s", check.took_seconds()),
            runs => format!("{:.1} s in {runs} runs", check.took_seconds()),
        };
        Self {
            word: verdict.word(),
            class: class(verdict),
            id: check.id.clone(),
            is_broken: verdict.is_broken(),
            level: check.level.word(),
            requirement: check.requirement.clone(),
            words: shortened(words, NOTE_SIGNS),
            took,
        }
    }
}

impl Broken {
    fn of(check: &CheckReport, results: &[CheckResult]) -> Self {
        let verdict = check.verdict();
        let result = results.iter().find(|result| result.check.id == check.id);
        let (evidence, more) = Evidence::of(check, result);
        let more = more.into_iter().map(|violation| More {
            subject: violation.subject.clone().unwrap_or_default(),
            allowed: violation.allowed.clone(),
            observed: violation.observed.clone(),
            at: format!("{:.2} s", violation.at_seconds),
        });
        Self {
            word: verdict.word(),
            class: class(verdict),
            id: check.id.clone(),
            level: check.level.word(),
            facts: vec![
                ("required", check.requirement.clone()),
                ("source", check.source.clone()),
                ("provoked", check.provoked.clone()),
                ("judged", check.judged.clone()),
                ("scenario", check.scenario.clone()),
            ],
            attempts: attempts(check),
            evidence,
            more: more.collect(),
        }
    }
}

fn attempts(check: &CheckReport) -> Vec<(String, String, String)> {
    let word = |verdict| match verdict {
        AttemptVerdict::Held => "kept",
        AttemptVerdict::Violated => "broken",
        AttemptVerdict::NotJudged => "not judged",
    };
    let attempts = check.attempts.iter().map(|attempt| {
        (
            word(attempt.verdict).to_owned(),
            format!("{:.1} s", attempt.took_seconds),
            format!("{:.0} ms", attempt.harness_delay_seconds * 1000.0),
        )
    });
    attempts.collect()
}
