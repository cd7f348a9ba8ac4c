//! JUnit XML, as CI systems read it.

use std::time::Duration;

use quick_junit::{NonSuccessKind, TestCase, TestCaseStatus, TestSuite};

use super::legible::legible;
use super::{CheckReport, Report, Verdict, ViolationReport};

/// Says why a report could not be written as JUnit XML.
#[derive(Debug, thiserror::Error)]
#[error("the report cannot be written as JUnit XML")]
pub struct JunitError(#[from] quick_junit::SerializeError);

/// Writes the report as JUnit XML: a suite for each area, a case for each check.
///
/// The form knows passed, failed and skipped. Only what fails the watcher is a failure there: a broken
/// should, an unsteady result and what the baseline knows are skipped cases whose message begins with
/// the word.
///
/// # Errors
/// [`JunitError`] when the text cannot be made.
pub fn junit(report: &Report) -> Result<String, JunitError> {
    let mut document = quick_junit::Report::new("coldbed check");
    for of_area in report.checks.chunk_by(|one, next| one.area == next.area) {
        let mut suite = TestSuite::new(format!("coldbed.{}", of_area[0].area.word()));
        suite.add_property(("watcher", legible(&report.watcher).as_str()));
        suite.add_property(("dialect", legible(&report.dialect).as_str()));
        suite.add_property(("seed", report.seed.to_string().as_str()));
        suite.add_test_cases(of_area.iter().map(case));
        suite.set_time(of_area.iter().map(took).sum());
        document.add_test_suite(suite);
    }
    document.set_time(report.checks.iter().map(took).sum());
    Ok(document.to_string()?)
}

fn case(check: &CheckReport) -> TestCase {
    let verdict = check.verdict();
    let message = match verdict {
        Verdict::Skipped => check.reason.clone(),
        Verdict::Failed => check.requirement.clone(),
        other => format!("{}: {}", other.word(), check.requirement),
    };
    let mut status = match verdict {
        Verdict::Passed | Verdict::Mended => TestCaseStatus::success(),
        Verdict::Failed => TestCaseStatus::non_success(NonSuccessKind::Failure),
        _ => TestCaseStatus::skipped(),
    };
    if !matches!(verdict, Verdict::Passed | Verdict::Mended) {
        status.set_message(legible(&message));
    }
    if verdict == Verdict::Failed {
        status.set_type(check.level.word());
    }
    if verdict.is_broken() {
        status.set_description(description(check));
    }
    let mut case = TestCase::new(check.id.as_str(), status);
    case.set_classname(format!("coldbed.{}", check.area.word()));
    case.set_time(took(check));
    if !check.note.is_empty() {
        case.set_system_out(legible(&check.note));
    }
    case
}

fn took(check: &CheckReport) -> Duration {
    Duration::try_from_secs_f64(check.took_seconds()).unwrap_or_default()
}

fn description(check: &CheckReport) -> String {
    let mut text = format!(
        "required: {}\nsource: {}\nscenario: {}\n",
        check.requirement, check.source, check.scenario
    );
    for violation in &check.violations {
        text.push_str(&lines(violation));
    }
    text
}

fn lines(violation: &ViolationReport) -> String {
    let about = match &violation.subject {
        Some(subject) => format!("\nabout: {}", legible(subject)),
        None => String::new(),
    };
    format!(
        "{about}\nallowed: {}\nobserved: {}\nmoment: {:.2} s into the run\n",
        legible(&violation.allowed),
        legible(&violation.observed),
        violation.at_seconds
    )
}
