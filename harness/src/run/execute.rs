//! One run: a plan carried out in front of one watcher.

use std::time::Duration;

use coldbed_mock::drift::DriftGuard;
use coldbed_mock::fault::Fault;
use coldbed_mock::sim::VirtualTime;

use super::RunError;
use super::stage::{Setting, Stage};
use crate::check::{Context, Plan, Step};
use crate::event::{Event, EventKind};
use crate::oracle::Timing;

/// Is what a run gave.
#[derive(Debug)]
pub struct Observed {
    /// Everything that happened, in order.
    pub events: Vec<Event>,
    /// How late the harness itself ran at worst.
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
    let stage = Stage::open(setting, scenario, plan.start(), &context.key).await?;
    let mut run = Run {
        stage,
        timing: context.timing,
        drifts: Vec::new(),
    };
    for step in &plan.steps {
        if !run.carry_out(step).await {
            break;
        }
    }
    let harness_delay = run.stage.delay.worst();
    let events = run.stage.close().await;
    Ok(Observed {
        events,
        harness_delay,
    })
}

struct Run {
    stage: Stage,
    timing: Timing,
    drifts: Vec<DriftGuard>,
}

impl Run {
    /// Carries one step out. Gives false when the watcher is gone and there is no point in more.
    async fn carry_out(&mut self, step: &Step) -> bool {
        match step {
            Step::Visit {
                from,
                per_poll,
                answers,
            } => self.visit(*from, *per_poll, *answers, self.settled()).await,
            Step::Glimpse { at, answers } => {
                // What was true before the jump is still true of the phase: nothing to wait out.
                self.visit(Some(*at), Duration::ZERO, *answers, Duration::ZERO)
                    .await
            }
            Step::RaiseDrift(drift) => {
                self.stage.log.note(EventKind::DriftRaised {
                    drift: drift.explain(),
                });
                let guard = self.stage.host.drifts().raise(drift.clone());
                self.drifts.push(guard);
                true
            }
            Step::ClearDrifts => {
                self.drifts.clear();
                self.stage.log.note(EventKind::DriftCleared);
                true
            }
            Step::Outage(fault) => self.outage(fault).await,
        }
    }

    async fn visit(
        &mut self,
        from: Option<VirtualTime>,
        per_poll: Duration,
        answers: usize,
        settled: Duration,
    ) -> bool {
        if let Some(from) = from {
            // A visit that lasted longer than planned may have passed the next one's beginning.
            let _ = self.stage.host.clock().jump_to(from);
        }
        self.stage
            .run_clock(per_poll.as_secs_f64() / self.timing.interval.as_secs_f64());
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
    /// two polls on.
    fn settled(&self) -> Duration {
        self.timing.freshness() + 2 * self.timing.interval
    }

    async fn outage(&mut self, fault: &Fault) -> bool {
        let guard = self.stage.host.faults().raise(fault.clone());
        guard.settled().await;
        let raised = self.stage.log.now();
        self.stage.log.note(EventKind::FaultRaised {
            fault: fault.to_string(),
        });
        let lasts = self.timing.unknown_within() + self.timing.longest_interval;
        self.stage.log.wait_until(lasts, is_over).await;
        guard.clear().await;
        let cleared = self.stage.log.now();
        self.stage.log.note(EventKind::FaultCleared);
        let live_again = |events: &[Event]| {
            is_over(events)
                || events.iter().any(|event| match &event.kind {
                    EventKind::Sighting(sighting) => event.at > cleared && !sighting.says_unknown(),
                    _ => false,
                })
        };
        let patience = self.timing.recovery_within(cleared - raised) + self.timing.interval;
        self.stage.log.wait_until(patience, live_again).await;
        !self.is_gone()
    }

    fn is_gone(&self) -> bool {
        self.stage.log.with(is_over)
    }
}

fn is_over(events: &[Event]) -> bool {
    events.iter().any(Event::is_exit)
}

/// Counts the good answers since a moment, and tells when the first and the last went out.
fn good_answers(events: &[Event], since: Duration) -> (usize, Option<Duration>, Option<Duration>) {
    let good = events.iter().filter(|event| {
        event.at > since && matches!(event.kind, EventKind::Answer { status: 200, .. })
    });
    let times: Vec<Duration> = good.map(|event| event.at).collect();
    (times.len(), times.first().copied(), times.last().copied())
}
