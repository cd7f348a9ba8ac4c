//! All checks of a selection, side by side.

use std::sync::Arc;

use coldbed_mock::scenario::Scenario;
use tokio::sync::Semaphore;

use super::stage::Setting;
use super::{Calibration, RunError, execute};
use crate::check::{Check, Context, NotPlanned};
use crate::oracle::{Timing, Trace, Verdict};

/// Is one check with its verdict.
#[derive(Debug, Clone)]
pub struct CheckResult {
    /// The check.
    pub check: Check,
    /// What was found.
    pub verdict: Verdict,
}

/// Runs checks, at most `jobs` at a time, and hands over each result in the order of `checks`.
///
/// # Errors
/// The first [`RunError`]; the remaining runs are ended with it.
pub async fn run_all(
    setting: &Setting,
    calibration: &Calibration,
    checks: &[Check],
    jobs: usize,
    mut done: impl FnMut(&CheckResult),
) -> Result<Vec<CheckResult>, RunError> {
    let places = Arc::new(Semaphore::new(jobs));
    let runs: Vec<_> = checks
        .iter()
        .map(|check| {
            let (check, places) = (*check, Arc::clone(&places));
            let (setting, calibration) = (setting.clone(), calibration.clone());
            // Aborted when dropped, so that an error ends the other runs and their processes.
            tokio_util::task::AbortOnDropHandle::new(tokio::spawn(async move {
                let _place = places.acquire_owned().await;
                run_one(&setting, &calibration, check).await
            }))
        })
        .collect();
    let mut results = Vec::with_capacity(runs.len());
    for run in runs {
        let result = match run.await {
            Ok(result) => result?,
            Err(error) => std::panic::resume_unwind(error.into_panic()),
        };
        done(&result);
        results.push(result);
    }
    Ok(results)
}

async fn run_one(
    setting: &Setting,
    calibration: &Calibration,
    check: Check,
) -> Result<CheckResult, RunError> {
    if !calibration.reported.contains(&check.needs) {
        let reason = format!("the watcher does not report {}", check.needs.word());
        return Ok(CheckResult {
            check,
            verdict: Verdict::NotJudged { reason },
        });
    }
    let context = Context {
        scenario: builtin(check.scenario),
        timing: calibration.timing,
        dialect: Arc::clone(&setting.dialect),
        key: format!("key-of-{}-{:08x}", check.id, setting.seed),
    };
    let plan = match (check.plan)(&context) {
        Ok(plan) => plan,
        Err(NotPlanned(reason)) => {
            return Ok(CheckResult {
                check,
                verdict: Verdict::NotJudged { reason },
            });
        }
    };
    let observed = execute(setting, &context, &plan).await?;
    let timing = Timing {
        harness_delay: observed.harness_delay.max(calibration.timing.harness_delay),
        ..calibration.timing
    };
    let trace = Trace::new(&observed.events, timing);
    Ok(CheckResult {
        check,
        verdict: (check.oracle)(&trace, &context),
    })
}

/// Gives a scenario of the catalogue's own.
///
/// # Panics
/// When the catalogue names a scenario that is not built in or does not parse; a test holds it to
/// that.
pub(crate) fn builtin(name: &str) -> Arc<Scenario> {
    match Scenario::builtin(name) {
        Some(Ok(scenario)) => Arc::new(scenario),
        Some(Err(error)) => panic!("built-in scenario: {error}"),
        None => panic!("no built-in scenario is called {name}"),
    }
}
