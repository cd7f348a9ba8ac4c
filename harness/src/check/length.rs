//! How long a plan is expected to take.

use std::time::Duration;

use super::plan::{Plan, Step};
use crate::oracle::Timing;

impl Plan {
    /// Gives the real time the plan is expected to take with a watcher of this rhythm that does what
    /// it owes. A guess for people who wait, no allowance.
    pub fn expected_length(&self, timing: &Timing) -> Duration {
        let timing = self.timing(*timing);
        // A program starts, asks for the first time, and is ended.
        timing.interval + Duration::from_secs(1) + of_steps(&self.steps, &timing)
    }
}

fn of_steps(steps: &[Step], timing: &Timing) -> Duration {
    steps.iter().map(|step| of_step(step, timing)).sum()
}

fn of_step(step: &Step, timing: &Timing) -> Duration {
    let polls = |count: usize| timing.interval * u32::try_from(count).unwrap_or(u32::MAX);
    match step {
        Step::Visit { answers, .. } => {
            let settled = timing.interval + timing.freshness() + 2 * timing.interval;
            polls(*answers).max(settled)
        }
        Step::Glimpse { answers, .. } => polls(*answers),
        Step::Outage(outage) => {
            let noticed = timing.unknown_within() + timing.longest_interval;
            outage.lasts.unwrap_or(noticed) + polls(2)
        }
        Step::Wait(span) => *span,
        // What is waited for comes, as a rule, after a poll or two.
        Step::Await { within, .. } => (*within).min(polls(2)),
        Step::Trial { steps, .. } => of_steps(steps, timing),
        _ => Duration::ZERO,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TIMING: Timing = Timing {
        interval: Duration::from_secs(1),
        longest_interval: Duration::from_secs(1),
        longest_idle_interval: Duration::from_secs(1),
        longest_claim_gap: Duration::from_secs(1),
        harness_delay: Duration::ZERO,
    };

    #[test]
    fn a_visit_takes_its_answers_or_until_old_claims_are_no_excuse() {
        let visit = |answers| Plan::stretch(Duration::ZERO, Duration::ZERO, answers);
        // 1 + 1 for the start, then 1 + 2.25 + 2 or the answers.
        assert_eq!(
            visit(2).expected_length(&TIMING),
            Duration::from_millis(7250)
        );
        assert_eq!(visit(20).expected_length(&TIMING), Duration::from_secs(22));
    }

    #[test]
    fn a_trial_takes_as_long_as_its_steps() {
        let steps = vec![
            Step::Wait(Duration::from_secs(3)),
            Step::Wait(Duration::from_secs(4)),
        ];
        let label = String::new();
        let plan = Plan::of([Step::Trial { label, steps }]);
        assert_eq!(plan.expected_length(&TIMING), Duration::from_secs(9));
    }
}
