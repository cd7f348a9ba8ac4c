//! The one who hands out the runs and takes the verdicts.
#![expect(clippy::disallowed_methods, reason = "it tells how long a run took")]

use std::sync::Arc;
use std::time::{Duration, Instant};

use coldbed_mock::scenario::Scenario;
use coldbed_mock::server::StartError;
use futures_util::StreamExt;
use futures_util::stream::FuturesUnordered;
use tokio_util::task::AbortOnDropHandle;

use super::attach;
use super::calibrate::gaps;
use super::decide::{is_decided, outcome};
use super::gate::Gate;
use super::in_order::InOrder;
use super::stage::Setting;
use super::{Calibration, RunError, execute};
use crate::check::{self, Check, Context, NotPlanned, Plan, Setup};
use crate::event::{Event, EventKind};
use crate::oracle::{self, Timing, Trace, Verdict, Violation};

/// Is a check with what came of it.
#[derive(Debug, Clone)]
pub struct CheckResult {
    /// The check.
    pub check: Check,
    /// What came of it.
    pub outcome: Outcome,
    /// The runs it was judged by, in order; none if it was skipped without one.
    pub attempts: Vec<Attempt>,
}

/// Is what came of a check.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// The rule was kept.
    Passed {
        /// What is worth knowing all the same.
        note: String,
    },
    /// The rule was broken, and again when the run was repeated.
    Failed(Vec<Violation>),
    /// The rule was broken in one run and kept in another of the same plan: neither can be said.
    Unsteady(Vec<Violation>),
    /// There was nothing to judge by.
    Skipped {
        /// Why not.
        reason: String,
    },
}

/// Is one run of a check.
#[derive(Debug, Clone)]
pub struct Attempt {
    /// What it showed.
    pub verdict: Verdict,
    /// Everything that was observed; kept only where the rule was broken.
    pub events: Arc<[Event]>,
    /// The allowances it was judged with.
    pub timing: Timing,
    /// How long it took in real time.
    pub took: Duration,
}

/// Says how runs are handed out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pace {
    /// How many runs at once at most.
    pub jobs: usize,
    /// How often a broken rule is tried again before it counts.
    pub repeats: usize,
}

/// Is told how far the runs are.
pub trait Onlooker {
    /// One more check is through, whichever.
    fn one_more(&mut self);
    /// This check and all before it are through.
    fn result(&mut self, result: &CheckResult);
}

impl<F: FnMut(&CheckResult)> Onlooker for F {
    fn one_more(&mut self) {}

    fn result(&mut self, result: &CheckResult) {
        self(result);
    }
}

/// Runs checks side by side. The onlooker gets the results in the catalogue's order, whichever is
/// through first.
///
/// # Errors
/// The first [`RunError`] of any run.
///
/// # Panics
/// If an oracle panics: that is a bug of ours.
pub async fn run_all(
    setting: &Setting,
    calibration: &Calibration,
    checks: &[Check],
    pace: Pace,
    onlooker: &mut dyn Onlooker,
) -> Result<Vec<CheckResult>, RunError> {
    let gate = Arc::new(Gate::of(
        pace.jobs,
        calibration.processor_share,
        Arc::clone(&setting.strain),
    ));
    let jobs = checks.iter().map(|check| Job {
        check: *check,
        planned: None,
    });
    run_jobs(setting, calibration, jobs, &gate, pace.repeats, onlooker).await
}

/// Runs checks that are planned already, as [`run_all`] does.
///
/// # Errors
/// The first [`RunError`] of any run.
///
/// # Panics
/// If an oracle panics: that is a bug of ours.
pub(crate) async fn run_planned(
    setting: &Setting,
    calibration: &Calibration,
    planned: &[Planned],
    gate: &Arc<Gate>,
    repeats: usize,
    onlooker: &mut dyn Onlooker,
) -> Result<Vec<CheckResult>, RunError> {
    let jobs = planned.iter().map(|planned| Job {
        check: planned.check,
        planned: Some((Arc::clone(&planned.scenario), Arc::clone(&planned.plan))),
    });
    run_jobs(setting, calibration, jobs, gate, repeats, onlooker).await
}

/// Is a check with its plan, on a scenario that need not be one of the catalogue.
#[derive(Debug, Clone)]
pub(crate) struct Planned {
    /// The check; its own scenario and plan are not asked for.
    pub(crate) check: Check,
    /// The scenario.
    pub(crate) scenario: Arc<Scenario>,
    /// What is done.
    pub(crate) plan: Arc<Plan>,
}

struct Job {
    check: Check,
    planned: Option<(Arc<Scenario>, Arc<Plan>)>,
}

async fn run_jobs(
    setting: &Setting,
    calibration: &Calibration,
    jobs: impl Iterator<Item = Job>,
    gate: &Arc<Gate>,
    repeats: usize,
    onlooker: &mut dyn Onlooker,
) -> Result<Vec<CheckResult>, RunError> {
    let mut ready = Vec::new();
    for (index, job) in jobs.enumerate() {
        let (setting, calibration) = (setting.clone(), calibration.clone());
        // Planning looks through whole scenarios: off the threads that serve and time.
        let planning = move || Ready::of(&setting, &calibration, job);
        ready.push((index, tokio::task::spawn_blocking(planning)));
    }
    let mut planned = Vec::with_capacity(ready.len());
    for (index, ready) in ready {
        match ready.await {
            Ok(ready) => planned.push((index, ready)),
            Err(error) => std::panic::resume_unwind(error.into_panic()),
        }
    }
    // The longest first, so that the whole takes little longer than they do.
    planned.sort_by_key(|(_, ready)| std::cmp::Reverse(ready.expected_length()));
    let mut runs: FuturesUnordered<_> = planned
        .into_iter()
        .map(|(index, ready)| {
            let (gate, setting) = (Arc::clone(gate), setting.clone());
            let run = AbortOnDropHandle::new(tokio::spawn(async move {
                run_one(&setting, ready, &gate, repeats).await
            }));
            async move { (index, run.await) }
        })
        .collect();
    let mut in_order = InOrder::default();
    let mut results = Vec::with_capacity(runs.len());
    while let Some((index, run)) = runs.next().await {
        let result = match run {
            Ok(result) => result?,
            Err(error) => std::panic::resume_unwind(error.into_panic()),
        };
        onlooker.one_more();
        in_order.put(index, result);
        while let Some(result) = in_order.take() {
            onlooker.result(&result);
            results.push(result);
        }
    }
    Ok(results)
}

/// Is a check that is planned, or why there is nothing to plan.
struct Ready {
    check: Check,
    context: Context,
    plan: Result<Arc<Plan>, String>,
}

impl Ready {
    fn of(setting: &Setting, calibration: &Calibration, Job { check, planned }: Job) -> Self {
        let (scenario, plan) = match planned {
            Some((scenario, plan)) => (scenario, Some(plan)),
            None => (check::scenario(check.scenario), None),
        };
        let context = Context {
            scenario,
            timing: calibration.timing,
            dialect: Arc::clone(&setting.dialect),
            key: format!("key-of-{}-{:08x}", check.id, setting.seed),
            reported: calibration.reported.clone(),
            asked: calibration.asked.clone(),
            subscribes: calibration.subscribes,
            takes_interval: setting.watcher.takes_interval(),
            commands: setting.watcher.commands(),
        };
        let plan = if calibration.reported.contains(&check.needs) {
            let planned = plan.map_or_else(|| (check.plan)(&context).map(Arc::new), Ok);
            planned
                .map_err(|NotPlanned(reason)| reason)
                .and_then(|plan| {
                    let attached = setting.attach.as_ref();
                    match attached.and_then(|_| attach::cannot(&plan)) {
                        Some(reason) => Err(reason.to_owned()),
                        None => Ok(plan),
                    }
                })
        } else {
            let field = check.needs.word();
            Err(format!("the watcher does not report {field}"))
        };
        Self {
            check,
            context,
            plan,
        }
    }

    fn expected_length(&self) -> Duration {
        let plan = self.plan.as_ref();
        plan.map_or(Duration::ZERO, |plan| {
            plan.expected_length(&self.context.timing)
        })
    }
}

async fn run_one(
    setting: &Setting,
    ready: Ready,
    gate: &Gate,
    repeats: usize,
) -> Result<CheckResult, RunError> {
    let Ready {
        check,
        context,
        plan,
    } = ready;
    let skipped = |reason| CheckResult {
        check,
        outcome: Outcome::Skipped { reason },
        attempts: Vec::new(),
    };
    let plan = match plan {
        Ok(plan) => plan,
        Err(reason) => return Ok(skipped(reason)),
    };
    let mut attempts: Vec<Attempt> = Vec::new();
    loop {
        let place = gate.enter().await;
        match attempt(setting, &context, &check, &plan).await {
            Ok(attempt) => attempts.push(attempt),
            // The calibration's printer did fit; this check has another.
            Err(RunError::Host(error @ StartError::Dialect { .. })) => {
                return Ok(skipped(error.to_string()));
            }
            Err(error) => return Err(error),
        }
        drop(place);
        if is_decided(&attempts, repeats) {
            return Ok(CheckResult {
                check,
                outcome: outcome(&attempts, repeats),
                attempts,
            });
        }
    }
}

async fn attempt(
    setting: &Setting,
    context: &Context,
    check: &Check,
    plan: &Plan,
) -> Result<Attempt, RunError> {
    let began = Instant::now();
    let observed = match execute(setting, context, plan).await {
        Err(RunError::NeverAsked { .. }) if plan.setup.is_beyond_the_usual() => {
            return Ok(not_judged(context, plan.setup, began.elapsed()));
        }
        observed => observed?,
    };
    let mut timing = plan.timing(context.timing);
    timing.harness_delay = timing.harness_delay.max(observed.harness_delay);
    if plan.setup.interval.is_some()
        && let Some(gap) = usual_claim_gap(&observed.events)
    {
        timing = timing.claiming_every(gap, context.timing);
    }
    let (check, context) = (*check, context.clone());
    // A long run takes a while to judge: off the threads that serve and time the others.
    let judging = tokio::task::spawn_blocking(move || {
        let verdict = (check.oracle)(&Trace::new(&observed.events, timing), &context);
        let verdict = oracle::with_unread_lines(verdict, &observed.events);
        let keep = matches!(verdict, Verdict::Violated(_));
        let events = if keep { observed.events } else { Vec::new() };
        (verdict, events.into())
    });
    let (verdict, events) = match judging.await {
        Ok(judged) => judged,
        Err(error) => std::panic::resume_unwind(error.into_panic()),
    };
    Ok(Attempt {
        events,
        verdict,
        timing,
        took: began.elapsed(),
    })
}

/// Gives the median time between two claims.
fn usual_claim_gap(events: &[Event]) -> Option<Duration> {
    let claims = events
        .iter()
        .filter(|event| matches!(event.kind, EventKind::Sighting(_)));
    let times: Vec<Duration> = claims.map(|event| event.at).collect();
    let mut gaps = gaps(&times);
    gaps.sort_unstable();
    gaps.get(gaps.len() / 2).copied()
}

/// Says why there is nothing to judge a watcher by that asks nothing when it is started in another way
/// than the one it was measured in.
fn not_judged(context: &Context, setup: Setup, took: Duration) -> Attempt {
    let reason = match setup.interval {
        Some(interval) if !setup.tls => format!(
            "it asks nothing when it is told to ask every {} s",
            interval.as_secs_f64()
        ),
        _ => oracle::NO_TLS.to_owned(),
    };
    Attempt {
        verdict: Verdict::NotJudged { reason },
        events: Arc::default(),
        timing: context.timing,
        took,
    }
}
