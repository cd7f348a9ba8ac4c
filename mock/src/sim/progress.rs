//! What a host makes of how far a job has come: the progress it shows, the time left it guesses.
//!
//! Both differ from the truth in ways a scenario names, so that a watcher meets on the desk what
//! hosts do in the field.

use crate::scenario::{EstimatePlan, Estimator, ProgressMeasure, ProgressPlan};

/// Is how far a program really has come, by every measure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Done {
    /// Motion and dwells done, s.
    pub(super) seconds: f64,
    /// Of so many, s.
    pub(super) of_seconds: f64,
    /// Bytes of the text carried out.
    pub(super) bytes: u64,
    /// Of so many.
    pub(super) of_bytes: u64,
    /// Distance over speed done, s.
    pub(super) naive_s: f64,
    /// Of so many, s.
    pub(super) of_naive_s: f64,
}

/// Is what the job has cost so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spent {
    /// Since the program began, s.
    pub(super) running_s: f64,
    /// Since the job was started, standing still not counted, s.
    pub(super) processing_s: f64,
    /// The progress shown.
    pub(super) progress_percent: f64,
}

impl Done {
    /// Is that of a program without a text: everything goes by time.
    pub(super) fn of_time(seconds: f64, of_seconds: f64) -> Self {
        Self {
            seconds,
            of_seconds,
            bytes: 0,
            of_bytes: 0,
            naive_s: seconds,
            of_naive_s: of_seconds,
        }
    }

    pub(super) fn percent_by_time(&self) -> f64 {
        percent(self.seconds, self.of_seconds)
    }

    #[expect(
        clippy::cast_precision_loss,
        reason = "a program is far below 2^53 bytes"
    )]
    fn percent_by_file(&self) -> f64 {
        if self.of_bytes == 0 {
            return self.percent_by_time();
        }
        percent(self.bytes as f64, self.of_bytes as f64)
    }

    /// Gives the time the program still takes by itself, s.
    pub(super) fn left_s(&self) -> f64 {
        (self.of_seconds - self.seconds).max(0.0)
    }
}

fn percent(done: f64, of: f64) -> f64 {
    if of > 0.0 {
        (100.0 * done / of).clamp(0.0, 100.0)
    } else {
        100.0
    }
}

/// Gives the progress a host shows, percent.
pub(super) fn shown_percent(
    plan: &ProgressPlan,
    done: &Done,
    resumed_at_percent: Option<f64>,
) -> f64 {
    let measured = match plan.by {
        ProgressMeasure::Time => done.percent_by_time(),
        ProgressMeasure::File => done.percent_by_file(),
    };
    let early = (measured * 100.0 / plan.full_at_percent).min(100.0);
    let stalled = plan
        .stalls
        .iter()
        .find(|stall| (stall.at_percent..stall.until_percent).contains(&early));
    let shown = stalled.map_or(early, |stall| stall.at_percent);
    let behind = resumed_at_percent.map_or(0.0, |at| {
        let since = done.percent_by_time() - at;
        // Twice as many points later it has caught up.
        (plan.falls_back_percent - since / 2.0).max(0.0)
    });
    (shown - behind).max(0.0)
}

/// Gives the time left as a host guesses it, s; `None` while it does not say.
pub(super) fn estimate_s(plan: &EstimatePlan, done: &Done, spent: &Spent) -> Option<f64> {
    if spent.running_s < plan.unknown_for.start().as_seconds() {
        return None;
    }
    let from_share = |spent_s: f64, percent: f64| {
        let share = percent / 100.0;
        // Nothing done says nothing of the rest.
        (share > 0.0).then(|| spent_s * (1.0 - share) / share)
    };
    let left_s = match plan.by {
        Estimator::Exact => Some(done.left_s()),
        Estimator::File => from_share(spent.running_s, done.percent_by_file()),
        Estimator::Elapsed => from_share(spent.processing_s, spent.progress_percent),
        Estimator::Naive => Some((done.of_naive_s - done.naive_s).max(0.0)),
    };
    left_s.map(|left_s| left_s * plan.bias)
}

/// Cuts a number that is not below zero to a whole one.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the caller's number is not below zero; too large a one ends at the largest"
)]
pub(super) fn whole(number: f64) -> u32 {
    number as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Stall;
    use crate::sim::Tick;

    const HONEST: ProgressPlan = ProgressPlan {
        by: ProgressMeasure::Time,
        full_at_percent: 100.0,
        falls_back_percent: 0.0,
        stalls: Vec::new(),
    };

    fn at(percent: f64) -> Done {
        Done::of_time(percent * 10.0, 1000.0)
    }

    #[track_caller]
    fn assert_shows(plan: &ProgressPlan, done: &Done, resumed: Option<f64>, expected: f64) {
        let shown = shown_percent(plan, done, resumed);
        assert!((shown - expected).abs() < 1e-9, "{shown}");
    }

    #[test]
    fn an_honest_host_shows_the_share_of_the_time_done() {
        for percent in [0.0, 12.5, 99.9, 100.0] {
            assert_shows(&HONEST, &at(percent), None, percent);
        }
    }

    #[test]
    fn a_hundred_may_be_shown_before_the_end() {
        let plan = ProgressPlan {
            full_at_percent: 80.0,
            ..HONEST
        };
        assert_shows(&plan, &at(40.0), None, 50.0);
        assert_shows(&plan, &at(80.0), None, 100.0);
        assert_shows(&plan, &at(90.0), None, 100.0);
    }

    #[test]
    fn it_stands_still_within_a_stall_and_jumps_after_it() {
        let plan = ProgressPlan {
            stalls: vec![Stall {
                at_percent: 40.0,
                until_percent: 55.0,
            }],
            ..HONEST
        };
        assert_shows(&plan, &at(39.0), None, 39.0);
        assert_shows(&plan, &at(54.0), None, 40.0);
        assert_shows(&plan, &at(55.0), None, 55.0);
    }

    #[test]
    fn it_falls_back_after_standing_still_and_catches_up() {
        let plan = ProgressPlan {
            falls_back_percent: 3.0,
            ..HONEST
        };
        assert_shows(&plan, &at(50.0), Some(50.0), 47.0);
        assert_shows(&plan, &at(52.0), Some(50.0), 50.0);
        assert_shows(&plan, &at(56.0), Some(50.0), 56.0);
        assert_shows(&plan, &at(70.0), Some(50.0), 70.0);
    }

    #[test]
    fn by_file_and_by_time_differ_where_the_text_is_dense() {
        let plan = ProgressPlan {
            by: ProgressMeasure::File,
            ..HONEST
        };
        let dense = Done {
            bytes: 900,
            of_bytes: 1000,
            ..at(50.0)
        };
        assert_shows(&plan, &dense, None, 90.0);
        assert_shows(&HONEST, &dense, None, 50.0);
    }

    fn estimate(by: Estimator, done: &Done) -> Option<f64> {
        let plan = EstimatePlan {
            by,
            unknown_for: Tick(600),
            bias: 1.0,
        };
        let spent = Spent {
            running_s: 250.0,
            processing_s: 450.0,
            progress_percent: 25.0,
        };
        estimate_s(&plan, done, &spent)
    }

    #[test]
    fn each_estimator_is_wrong_in_its_own_way() {
        // A quarter of the time done, half of the text; 250 s of program after 200 s of heating.
        let done = Done {
            bytes: 500,
            of_bytes: 1000,
            naive_s: 200.0,
            of_naive_s: 800.0,
            ..at(25.0)
        };
        assert_eq!(estimate(Estimator::Exact, &done), Some(750.0));
        assert_eq!(estimate(Estimator::File, &done), Some(250.0));
        assert_eq!(estimate(Estimator::Elapsed, &done), Some(1350.0));
        assert_eq!(estimate(Estimator::Naive, &done), Some(600.0));
    }

    #[test]
    fn an_estimate_is_unknown_at_first_and_while_nothing_is_done() {
        let plan = EstimatePlan {
            by: Estimator::File,
            unknown_for: Tick(600),
            bias: 2.0,
        };
        let spent = |running_s| Spent {
            running_s,
            processing_s: running_s,
            progress_percent: 0.0,
        };
        assert_eq!(estimate_s(&plan, &at(10.0), &spent(59.0)), None);
        assert_eq!(estimate_s(&plan, &at(0.0), &spent(61.0)), None);
        assert_eq!(estimate_s(&plan, &at(50.0), &spent(100.0)), Some(200.0));
    }
}
