//! `coldbed check --scenario` and `--explore`: runs with troubles, judged by the general oracle.

mod generated;
mod saved;
mod search;

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::scenario::{Action, Scenario};

use super::{Failure, scenario};
use crate::check::{Area, Check, Field, Level, NotPlanned, Plan, Setup, Step};
use crate::cli::CheckArgs;
use crate::oracle::{Timing, verify_general};
use crate::run::{
    Calibration, CheckResult, Gate, Onlooker, Pace, Planned, RunError, Setting, run_planned,
};

use generated::Generated;

/// Is what is judged beyond the catalogue, checked.
pub(super) struct Beyond {
    scenario: Option<(Arc<Scenario>, Option<Duration>)>,
    generated: Option<Generated>,
    /// Whether the catalogue is judged, too.
    pub(super) takes_catalogue: bool,
}

impl Beyond {
    /// Takes what the command line asks for.
    pub(super) fn new(args: &CheckArgs, dialect: &DialectFile) -> Result<Self, Failure> {
        let asked = &args.explore;
        let playing = match &asked.scenario {
            Some(name) => Some((playable(name, dialect)?, asked.per_poll)),
            None => None,
        };
        let generated = match asked.explore {
            Some(count) => Some(Generated::new(count, args, dialect)?),
            None => None,
        };
        let is_nothing_else = playing.is_none() && generated.is_none();
        Ok(Self {
            takes_catalogue: is_nothing_else || !args.only.is_empty(),
            scenario: playing,
            generated,
        })
    }

    /// Counts what will be judged.
    pub(super) fn count(&self) -> usize {
        let generated = self.generated.as_ref().map_or(0, Generated::count);
        usize::from(self.scenario.is_some()) + generated
    }

    /// Runs all of it. The onlooker is told of each, before a failing plan is made smaller.
    pub(super) async fn run(
        &self,
        setting: &Setting,
        calibration: &Calibration,
        pace: Pace,
        onlooker: &mut dyn Onlooker,
    ) -> Result<Vec<CheckResult>, RunError> {
        let gate = Arc::new(Gate::of(
            pace.jobs,
            calibration.processor_share,
            Arc::clone(&setting.strain),
        ));
        let planned: Vec<Planned> = self
            .scenario
            .iter()
            .map(|(scenario, per_poll)| playing(scenario, *per_poll, &calibration.timing))
            .collect();
        let repeats = pace.repeats;
        let mut results =
            run_planned(setting, calibration, &planned, &gate, repeats, onlooker).await?;
        if let Some(generated) = &self.generated {
            let runs = search::Runs {
                setting,
                calibration,
                gate: &gate,
                repeats,
            };
            results.extend(search::search(generated, &runs, onlooker).await?);
        }
        Ok(results)
    }
}

fn playable(name: &str, dialect: &DialectFile) -> Result<Arc<Scenario>, Failure> {
    let scenario = scenario(name)?;
    dialect
        .check_updates(&scenario)
        .map_err(Failure::bad_input)?;
    if scenario.length.0 == 0 {
        let message = format!("--scenario `{name}` has no length, so there is nothing to play");
        return Err(Failure::bad_input(message));
    }
    Ok(scenario)
}

/// By default a scenario is through in about this time (own choice: as long as a check may take).
const WHOLE: Duration = Duration::from_secs(60);

fn playing(scenario: &Arc<Scenario>, per_poll: Option<Duration>, timing: &Timing) -> Planned {
    let length = scenario.length.start().since_start();
    let polls = WHOLE.as_secs_f64() / timing.interval.as_secs_f64().max(0.01);
    let needs_tls = scenario.events.iter().any(|event| match &event.action {
        Action::FaultRaised { fault, .. } => fault.fault.needs_tls(),
        _ => false,
    });
    let steps = vec![Step::Play {
        until: scenario.length.start(),
        per_poll: per_poll.unwrap_or_else(|| length.div_f64(polls.max(1.0))),
    }];
    let setup = Setup {
        tls: needs_tls,
        ..Setup::default()
    };
    Planned {
        check: judged_as("scenario", &scenario.name),
        scenario: Arc::clone(scenario),
        plan: Arc::new(Plan { setup, steps }),
    }
}

/// Gives the rule that a run with troubles is judged by.
///
/// Ids and names live as long as the program: reports hold them like those of the catalogue, and there
/// is one for each plan.
fn judged_as(id: &str, scenario: &str) -> Check {
    Check {
        id: id.to_owned().leak(),
        area: Area::Telling,
        level: Level::Must,
        requirement: "whatever goes wrong, claims are true or unknown, and the watcher recovers and lives",
        source: "common practice: an old reading is never shown as now",
        provoked: "a scenario is played with the faults and drifts of its timeline",
        judged: "each claim is held against all answers that it may rest on, whatever was in force",
        scenario: scenario.to_owned().leak(),
        needs: Field::Anything,
        plan: |_| Err(NotPlanned("it is planned with its scenario".to_owned())),
        oracle: |trace, context| verify_general(trace, context.dialect.first()),
    }
}
