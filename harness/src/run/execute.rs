//! One run: a plan carried out step by step.

use std::time::Duration;

use coldbed_mock::drift::DriftGuard;
use coldbed_mock::fault::{Fault, FaultGuard, ScopedFault};
use coldbed_mock::sim::VirtualTime;
use futures_util::future::BoxFuture;
use tokio_util::task::AbortOnDropHandle;

use super::RunError;
use super::play;
use super::stage::{Setting, Stage};
use crate::check::{Awaited, Context, Outage, Plan, Step};
use crate::event::{Event, EventKind};
use crate::oracle::{self, Timing};

/// Is what a run gave.
#[derive(Debug)]
pub struct Observed {
    /// Everything that happened, in order.
    pub events: Vec<Event>,
    /// How late this machine ran things at worst.
    pub harness_delay: Duration,
}

/// Carries a plan out and gives everything that was observed.
///
/// # Errors
/// [`RunError`] when there is nothing to observe.
pub async fn execute(
    setting: &Setting,
    context: &Context,
    plan: &Plan,
) -> Result<Observed, RunError> {
    let scenario = std::sync::Arc::clone(&context.scenario);
    let stage = Stage::open(setting, scenario, plan, &context.key).await?;
    let mut run = Run {
        measuring: None,
        stage,
        timing: plan.timing(context.timing),
        drifts: Vec::new(),
        faults: Vec::new(),
    };
    run.measure(plan);
    for step in &plan.steps {
        if !run.carry_out(step).await? {
            break;
        }
    }
    let harness_delay = run.stage.worst_delay();
    run.stage.log.note(EventKind::RunEnded);
    drop(run.measuring);
    let events = run.stage.close().await;
    Ok(Observed {
        events,
        harness_delay,
    })
}

struct Run {
    measuring: Option<AbortOnDropHandle<()>>,
    stage: Stage,
    timing: Timing,
    drifts: Vec<DriftGuard>,
    faults: Vec<FaultGuard>,
}

impl Run {
    fn measure(&mut self, plan: &Plan) {
        let every = plan.setup.measure_every;
        self.measuring = every.map(|every| AbortOnDropHandle::new(self.stage.measure(every)));
    }

    /// Carries one step out. Gives false when the watcher is gone and there is no point in more.
    fn carry_out<'a>(&'a mut self, step: &'a Step) -> BoxFuture<'a, Result<bool, RunError>> {
        Box::pin(async move {
            match step {
                Step::Visit {
                    from,
                    per_poll,
                    answers,
                } => return Ok(self.visit(*from, *per_poll, *answers, self.settled()).await),
                Step::Glimpse { at, answers } => {
                    // What was true before the jump is still true of the phase: nothing to wait out.
                    let no_time = Duration::ZERO;
                    return Ok(self.visit(Some(*at), no_time, *answers, no_time).await);
                }
                Step::Outage(outage) => return Ok(self.outage(outage).await),
                Step::Trial { label, steps } => self.trial(label, steps).await?,
                Step::Jump { to, per_poll } => self.set_clock(*to, *per_poll),
                Step::RaiseDrift(drift) => {
                    self.stage.log.note(EventKind::DriftRaised {
                        drift: drift.explain(),
                    });
                    self.drifts
                        .push(self.stage.host.drifts().raise(drift.clone()));
                }
                Step::ClearDrifts => {
                    self.drifts.clear();
                    self.stage.log.note(EventKind::DriftCleared);
                }
                Step::RaiseFault(fault) => self.raise(fault.clone()).await,
                Step::RedirectElsewhere(code) => self.redirect_elsewhere(*code).await,
                Step::ClearFaults => self.clear_faults().await,
                Step::Happen(keys) => self.happen(keys),
                Step::Command(command) => self.stage.give(*command).await?,
                Step::Play { until, per_poll } => {
                    self.set_clock(None, *per_poll);
                    play::play(&self.stage, &self.timing, *until).await;
                }
                Step::Wait(span) => {
                    self.stage.log.wait_until(*span, is_over).await;
                }
                Step::Await { what, within } => self.wait_for(*what, *within).await,
                Step::Suspend => self.stage.suspend(true),
                Step::Resume => self.stage.suspend(false),
            }
            // In a trial the next one may start the watcher again.
            Ok(!self.is_gone())
        })
    }

    /// Carries a trial out, with a watcher that lives.
    async fn trial(&mut self, label: &str, steps: &[Step]) -> Result<(), RunError> {
        if self.is_gone() {
            self.stage.restart().await?;
            let first_claim = self.timing.unknown_within() + STARTING;
            self.wait_for(Awaited::LiveClaim, first_claim).await;
        }
        let label = label.to_owned();
        self.stage.log.note(EventKind::TrialBegan { label });
        for step in steps {
            if !self.carry_out(step).await? {
                break;
            }
        }
        self.stage.log.note(EventKind::TrialEnded);
        // What a trial that broke off has left in force is no part of the next.
        self.drifts.clear();
        self.clear_faults().await;
        Ok(())
    }

    fn set_clock(&self, to: Option<VirtualTime>, per_poll: Duration) {
        if let Some(to) = to {
            // A visit that lasted longer than planned may have passed the next one's beginning.
            let _ = self.stage.host.clock().jump_to(to);
        }
        self.stage
            .run_clock(per_poll.as_secs_f64() / self.timing.interval.as_secs_f64());
    }

    async fn visit(
        &mut self,
        from: Option<VirtualTime>,
        per_poll: Duration,
        answers: usize,
        settled: Duration,
    ) -> bool {
        self.set_clock(from, per_poll);
        let began = self.stage.log.now();
        // Ten intervals without a request are a watcher that has stopped asking.
        let patience = 10 * self.timing.longest_interval + Duration::from_secs(5);
        loop {
            let seen = self.stage.log.with(<[Event]>::len);
            let progress = |events: &[Event]| events.len() > seen;
            let (count, first, last) = self.stage.log.with(|events| good_answers(events, began));
            let now = self.stage.log.now();
            let rest = first.map_or(settled, |first| (first + settled).saturating_sub(now));
            if count >= answers && rest.is_zero() {
                return true;
            }
            if self.is_gone() {
                return false;
            }
            let waited = now.saturating_sub(last.unwrap_or(began));
            if waited > patience {
                self.stage.log.note(EventKind::StoppedAsking { waited });
                return false;
            }
            let nap = if count >= answers {
                rest
            } else {
                patience - waited
            };
            self.stage
                .log
                .wait_until(nap.max(Duration::from_millis(1)), progress)
                .await;
        }
    }

    /// Gives how long a visit lasts at least: until what was before it is no excuse any more, and
    /// two polls on. The oracle allows for how strained the machine was in this run, so that comes on
    /// top.
    fn settled(&self) -> Duration {
        let strain = self.stage.worst_delay();
        let more = strain.saturating_sub(self.timing.harness_delay);
        self.timing.freshness() + more + 2 * self.timing.interval
    }

    async fn raise(&mut self, fault: ScopedFault) {
        let words = fault.to_string();
        let begun = self.stage.log.now();
        let guard = self.stage.host.faults().raise(fault);
        guard.settled().await;
        self.faults.push(guard);
        self.stage.log.note(EventKind::FaultRaised {
            fault: words,
            begun,
        });
    }

    async fn redirect_elsewhere(&mut self, code: u16) {
        let Some(elsewhere) = &self.stage.elsewhere else {
            panic!("the plan redirects to another origin and has none");
        };
        let to = elsewhere.origin();
        let code = http::StatusCode::from_u16(code).unwrap_or(http::StatusCode::FOUND);
        self.raise(Fault::Redirect { to, code }.into()).await;
    }

    async fn clear_faults(&mut self) {
        if self.faults.is_empty() {
            return;
        }
        for guard in self.faults.drain(..) {
            guard.clear().await;
        }
        self.stage.log.note(EventKind::FaultCleared);
    }

    fn happen(&self, keys: &serde_json::Map<String, serde_json::Value>) {
        let issued = self
            .stage
            .host
            .control()
            .map(|control| control.issue(keys.clone()));
        match issued {
            Some(Ok(_)) => self.stage.log.note(EventKind::PrinterEvent {
                event: serde_json::Value::Object(keys.clone()).to_string(),
            }),
            Some(Err(error)) => panic!("an event of the plan: {error}"),
            None => panic!("the plan has events and the host no control"),
        }
    }

    async fn outage(&mut self, outage: &Outage) -> bool {
        self.raise(outage.fault.clone()).await;
        let raised = self.stage.log.now();
        if let Some(to) = outage.meanwhile {
            let _ = self.stage.host.clock().jump_to(to);
        }
        let lasts = outage
            .lasts
            .unwrap_or(self.timing.unknown_within() + self.timing.longest_interval);
        self.stage.log.wait_until(lasts, is_over).await;
        self.clear_faults().await;
        let cleared = self.stage.log.now();
        let patience = self.timing.recovery_within(cleared - raised) + self.timing.interval;
        self.wait_for(Awaited::LiveClaim, patience).await;
        !self.is_gone()
    }

    async fn wait_for(&self, what: Awaited, within: Duration) {
        let since = self.stage.log.now();
        let happened =
            |events: &[Event]| is_over(events) || oracle::has_happened(events, since, what);
        // What a strained machine holds up is waited for longer.
        let within = within + 2 * self.stage.worst_delay();
        self.stage.log.wait_until(within, happened).await;
    }

    /// Tells whether the watcher has ended and was not started again.
    fn is_gone(&self) -> bool {
        self.stage.log.with(is_over)
    }
}

/// How long a watcher may take from its start to its first claim, beyond its rhythm (own choice).
const STARTING: Duration = Duration::from_secs(10);

pub(super) fn is_over(events: &[Event]) -> bool {
    // One that was started again has a `Restarted` after its `Exited`.
    let last = events
        .iter()
        .rev()
        .find(|event| event.is_exit() || matches!(event.kind, EventKind::Restarted));
    last.is_some_and(Event::is_exit)
}

/// Counts the good answers since a moment, and tells when the first and the last went out.
fn good_answers(events: &[Event], since: Duration) -> (usize, Option<Duration>, Option<Duration>) {
    let good = events.iter().filter(|event| {
        event.at > since
            && matches!(
                event.kind,
                EventKind::Answer {
                    status: 200 | 304,
                    ..
                } | EventKind::Pushed { .. }
            )
    });
    let times: Vec<Duration> = good.map(|event| event.at).collect();
    (times.len(), times.first().copied(), times.last().copied())
}
