//! From results to the report.

use std::time::Duration;

use super::{
    AttemptReport, AttemptVerdict, CalibrationReport, CheckReport, Counts, OutcomeWord, Report,
    ViolationReport,
};
use crate::check::{Level, Part};
use crate::oracle::{Verdict, Violation};
use crate::run::{Attempt, Calibration, CheckResult, Outcome, Setting};

/// Is what a report says before its checks.
#[derive(Debug, Clone, PartialEq)]
pub struct ReportHead {
    /// The watcher's command, as it was written.
    pub watcher: String,
    /// The dialect, as it was named.
    pub dialect: String,
    /// The seed of every simulation.
    pub seed: u64,
    /// The part of the catalogue that was run.
    pub part: Option<String>,
    /// What was measured.
    pub calibration: CalibrationReport,
}

impl ReportHead {
    /// Takes what is known before anything is judged.
    pub fn of(setting: &Setting, part: Option<Part>, calibration: &Calibration) -> Self {
        Self {
            watcher: setting.watcher.name(),
            dialect: setting.dialect_name.clone(),
            seed: setting.seed,
            part: part.map(|part| part.to_string()),
            calibration: CalibrationReport::of(calibration),
        }
    }

    /// Adds the checks.
    pub fn with(self, checks: Vec<CheckReport>) -> Report {
        Report {
            report_version: Report::VERSION,
            coldbed: env!("CARGO_PKG_VERSION").to_owned(),
            watcher: self.watcher,
            dialect: self.dialect,
            seed: self.seed,
            part: self.part,
            calibration: self.calibration,
            counts: Counts::of(&checks),
            checks,
            power: None,
        }
    }
}

impl CalibrationReport {
    /// Takes what was measured.
    pub fn of(calibration: &Calibration) -> Self {
        let timing = &calibration.timing;
        // `Nothing` and `Anything` are no members.
        let reported = calibration.reported.iter().map(|field| field.word());
        Self {
            interval_seconds: seconds(timing.interval),
            longest_interval_seconds: seconds(timing.longest_interval),
            longest_idle_interval_seconds: seconds(timing.longest_idle_interval),
            longest_claim_gap_seconds: seconds(timing.longest_claim_gap),
            harness_delay_seconds: seconds(timing.harness_delay),
            freshness_seconds: seconds(timing.freshness()),
            reported: reported
                .filter(|word| *word != "anything")
                .map(str::to_owned)
                .collect(),
        }
    }
}

impl CheckReport {
    /// Takes what came of a check.
    pub fn of(result: &CheckResult) -> Self {
        let check = &result.check;
        let outcome = match (&result.outcome, check.level) {
            (Outcome::Passed { .. }, _) => OutcomeWord::Passed,
            (Outcome::Failed(_), Level::Must) => OutcomeWord::Failed,
            (Outcome::Failed(_), Level::Should) => OutcomeWord::Lacks,
            (Outcome::Unsteady(_), _) => OutcomeWord::Unsteady,
            (Outcome::Skipped { .. }, _) => OutcomeWord::Skipped,
        };
        let (mut note, mut reason, mut violations) = (String::new(), String::new(), Vec::new());
        match &result.outcome {
            Outcome::Passed { note: said } => note.clone_from(said),
            Outcome::Skipped { reason: said } => reason.clone_from(said),
            Outcome::Failed(broken) | Outcome::Unsteady(broken) => {
                violations.extend(broken.iter().map(ViolationReport::of));
            }
        }
        Self {
            id: check.id.to_owned(),
            area: check.area,
            level: check.level,
            requirement: check.requirement.to_owned(),
            source: check.source.to_owned(),
            provoked: check.provoked.to_owned(),
            judged: check.judged.to_owned(),
            scenario: check.scenario.to_owned(),
            outcome,
            against_baseline: None,
            note,
            reason,
            violations,
            attempts: result.attempts.iter().map(AttemptReport::of).collect(),
        }
    }
}

impl ViolationReport {
    fn of(violation: &Violation) -> Self {
        Self {
            subject: violation.subject.clone(),
            allowed: violation.allowed.clone(),
            observed: violation.observed.clone(),
            at_seconds: seconds(violation.at),
        }
    }
}

impl AttemptReport {
    fn of(attempt: &Attempt) -> Self {
        Self {
            verdict: match attempt.verdict {
                Verdict::Held { .. } => AttemptVerdict::Held,
                Verdict::Violated(_) => AttemptVerdict::Violated,
                Verdict::NotJudged { .. } => AttemptVerdict::NotJudged,
            },
            took_seconds: seconds(attempt.took),
            harness_delay_seconds: seconds(attempt.timing.harness_delay),
        }
    }
}

/// Gives seconds to the millisecond: more digits would only be noise.
fn seconds(span: Duration) -> f64 {
    (span.as_secs_f64() * 1000.0).round() / 1000.0
}
