//! Running generated plans, and making those that fail smaller.

use std::cell::RefCell;
use std::sync::Arc;

use futures_util::future::join_all;

use super::generated::Generated;
use super::saved;
use crate::oracle::Violation;
use crate::run::{
    Calibration, CheckResult, Gate, Onlooker, Outcome, Planned, RunError, Setting, run_planned,
};
use crate::shrink::{Smallest, TroublePlan, smallest};

/// Is what runs are made with.
pub(super) struct Runs<'a> {
    pub(super) setting: &'a Setting,
    pub(super) calibration: &'a Calibration,
    pub(super) gate: &'a Arc<Gate>,
    pub(super) repeats: usize,
}

/// So many failing plans are made smaller: more of them mostly show the same again (own choice).
const MOST_SHRUNK: usize = 4;

/// Runs every plan, makes the failing ones smaller and saves them.
pub(super) async fn search(
    generated: &Generated,
    runs: &Runs<'_>,
    onlooker: &mut dyn Onlooker,
) -> Result<Vec<CheckResult>, RunError> {
    let timing = &runs.calibration.timing;
    let planned: Vec<Planned> = generated
        .numbers()
        .map(|number| generated.planned(number, &generated.tree(number).current(), timing))
        .collect();
    let (setting, calibration) = (runs.setting, runs.calibration);
    let mut results = run_planned(
        setting,
        calibration,
        &planned,
        runs.gate,
        runs.repeats,
        onlooker,
    )
    .await?;
    let failed: Vec<(u32, Vec<Violation>)> = generated
        .numbers()
        .zip(&results)
        .filter_map(|(number, result)| match &result.outcome {
            Outcome::Failed(violations) => Some((number, violations.clone())),
            _ => None,
        })
        .collect();
    let shrinking = failed
        .into_iter()
        .enumerate()
        .map(|(index, (number, violations))| {
            let most = if index < MOST_SHRUNK {
                generated.shrink_runs
            } else {
                0
            };
            shrink(generated, runs, number, violations, most)
        });
    for (number, smallest) in collect(join_all(shrinking).await)? {
        let result = results
            .iter_mut()
            .find(|result| result.check.id == generated.name(number));
        let (Some(result), Some(first)) = (result, smallest.witness.first()) else {
            continue;
        };
        let file = saved::save(
            generated,
            number,
            &smallest.value,
            &result.check,
            first,
            timing,
        )
        .map_err(RunError::Own)?;
        result.outcome = Outcome::Failed(
            smallest
                .witness
                .into_iter()
                .map(|violation| with_file(violation, &file.display().to_string()))
                .collect(),
        );
    }
    Ok(results)
}

fn collect<T>(results: Vec<Result<T, RunError>>) -> Result<Vec<T>, RunError> {
    results.into_iter().collect()
}

fn with_file(violation: Violation, file: &str) -> Violation {
    let about = violation.subject.unwrap_or_default();
    Violation {
        subject: Some(format!("{about} [saved as {file}]").trim_start().to_owned()),
        ..violation
    }
}

async fn shrink(
    generated: &Generated,
    runs: &Runs<'_>,
    number: u32,
    violations: Vec<Violation>,
    most: usize,
) -> Result<(u32, Smallest<TroublePlan, Vec<Violation>>), RunError> {
    let name = generated.name(number);
    let error = RefCell::new(None);
    let fails = async |plan: TroublePlan| {
        if error.borrow().is_some() {
            return None;
        }
        match fails_always(generated, runs, number, &plan).await {
            Ok(violations) => violations,
            Err(broken) => {
                error.replace(Some(broken));
                None
            }
        }
    };
    let told = |before: usize, plan: &TroublePlan| {
        let count = match plan.troubles.len() {
            1 => "1 trouble".to_owned(),
            count => format!("{count} troubles"),
        };
        let run = before + 1;
        eprintln!("coldbed: {name}: run {run} of at most {most} to make it smaller, {count}");
    };
    let mut tree = generated.tree(number);
    let smallest = smallest(tree.as_mut(), violations, most, fails, told).await;
    match error.into_inner() {
        Some(error) => Err(error),
        None => Ok((number, smallest)),
    }
}

/// Runs a candidate as often as a broken rule has to be seen, side by side. Gives what was seen if each
/// run failed.
async fn fails_always(
    generated: &Generated,
    runs: &Runs<'_>,
    number: u32,
    plan: &TroublePlan,
) -> Result<Option<Vec<Violation>>, RunError> {
    let planned = generated.planned(number, plan, &runs.calibration.timing);
    let several = vec![planned; runs.repeats + 1];
    let (setting, calibration) = (runs.setting, runs.calibration);
    let results = run_planned(
        setting,
        calibration,
        &several,
        runs.gate,
        0,
        &mut |_: &CheckResult| {},
    )
    .await?;
    let mut seen = None;
    for result in results {
        match result.outcome {
            Outcome::Failed(violations) => seen = seen.or(Some(violations)),
            _ => return Ok(None),
        }
    }
    Ok(seen)
}
