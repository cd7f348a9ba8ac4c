//! When a check has been run often enough, and what its runs say together.

use std::time::Duration;

use super::dispatch::{Attempt, Outcome};
use crate::oracle::Verdict;

/// Later than this, a machine is too strained for a broken rule to be the watcher's own, and a rule
/// that was kept was kept with allowances too wide to mean much (own choice).
const DOUBTFUL: Duration = Duration::from_millis(400);

/// Runs that show nothing are made up for by so many others at most (own choice).
const MADE_UP_FOR: usize = 2;

/// Are the runs of a check, counted by what they showed.
#[derive(Debug, Clone, Copy)]
struct Counts {
    broken: usize,
    held: usize,
    /// Runs beyond the usual, since the machine was strained in one of them.
    extra: usize,
}

impl Counts {
    fn of(attempts: &[Attempt], repeats: usize) -> Self {
        let of = |wanted: fn(&Verdict) -> bool| {
            let with = attempts.iter().filter(|attempt| wanted(&attempt.verdict));
            with.count()
        };
        Self {
            broken: of(|verdict| matches!(verdict, Verdict::Violated(_))),
            held: of(|verdict| matches!(verdict, Verdict::Held { .. })),
            extra: usize::from(attempts.iter().any(is_doubtful) && repeats > 0),
        }
    }
}

fn is_doubtful(attempt: &Attempt) -> bool {
    attempt.timing.harness_delay > DOUBTFUL
}

/// Tells whether runs enough have been made.
///
/// A broken rule is tried again, and once more if the machine was strained. A rule that was kept on a
/// strained machine is tried once more, too, and so is a run that shows nothing. It says nothing for or
/// against what another run has shown.
pub(super) fn is_decided(attempts: &[Attempt], repeats: usize) -> bool {
    let Counts {
        broken,
        held,
        extra,
    } = Counts::of(attempts, repeats);
    let is_at_end = attempts.len() > repeats + extra + MADE_UP_FOR;
    let is_calm = |attempt: &Attempt| !is_doubtful(attempt);
    match (broken, held) {
        (0, 0) => attempts.iter().any(is_calm) || attempts.len() > extra,
        (0, _) => {
            let holds_calmly = |attempt: &Attempt| {
                is_calm(attempt) && matches!(attempt.verdict, Verdict::Held { .. })
            };
            attempts.iter().any(holds_calmly) || held > extra || is_at_end
        }
        (_, 0) => broken > repeats + extra || is_at_end,
        _ => true,
    }
}

/// Says what the runs of a check show.
pub(super) fn outcome(attempts: &[Attempt], repeats: usize) -> Outcome {
    let counts = Counts::of(attempts, repeats);
    let broken = attempts.iter().find_map(|attempt| match &attempt.verdict {
        Verdict::Violated(violations) => Some(violations.clone()),
        _ => None,
    });
    if let Some(violations) = broken {
        // Broken once where every other run shows nothing, it has not been broken again.
        return match counts.held == 0 && counts.broken > repeats {
            true => Outcome::Failed(violations),
            false => Outcome::Unsteady(violations),
        };
    }
    let held = attempts
        .iter()
        .filter_map(|attempt| match &attempt.verdict {
            Verdict::Held { note } => Some((attempt.timing.harness_delay, note)),
            _ => None,
        });
    // Most can be judged on the calmest machine.
    if let Some((_, note)) = held.min_by_key(|(delay, _)| *delay) {
        return Outcome::Passed { note: note.clone() };
    }
    let reason = attempts.iter().find_map(|attempt| match &attempt.verdict {
        Verdict::NotJudged { reason } => Some(reason.clone()),
        _ => None,
    });
    Outcome::Skipped {
        reason: reason.unwrap_or_else(|| "it was not run".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use proptest::prelude::*;

    use super::*;
    use crate::oracle::Timing;

    fn attempt(verdict: Verdict, delay_ms: u64) -> Attempt {
        Attempt {
            verdict,
            events: Arc::default(),
            timing: Timing {
                harness_delay: Duration::from_millis(delay_ms),
                ..Timing::every(Duration::from_secs(1))
            },
            took: Duration::ZERO,
        }
    }

    fn broken() -> Verdict {
        Verdict::violated(Duration::ZERO, "one thing", "another")
    }

    fn held() -> Verdict {
        Verdict::Held {
            note: String::new(),
        }
    }

    fn not_judged() -> Verdict {
        Verdict::NotJudged {
            reason: "nothing to see".to_owned(),
        }
    }

    /// Of a machine that is calm.
    fn calm(verdicts: &[Verdict]) -> Vec<Attempt> {
        let verdicts = verdicts.iter().cloned();
        verdicts.map(|verdict| attempt(verdict, 0)).collect()
    }

    /// Of one that is strained.
    fn strained(verdicts: &[Verdict]) -> Vec<Attempt> {
        let verdicts = verdicts.iter().cloned();
        verdicts.map(|verdict| attempt(verdict, 500)).collect()
    }

    #[test]
    fn a_broken_rule_counts_only_when_it_is_broken_again() {
        assert!(!is_decided(&calm(&[broken()]), 1));
        let twice = calm(&[broken(), broken()]);
        assert!(is_decided(&twice, 1));
        assert!(matches!(outcome(&twice, 1), Outcome::Failed(_)));
        assert!(is_decided(&calm(&[broken()]), 0));
        assert!(matches!(outcome(&calm(&[broken()]), 0), Outcome::Failed(_)));
    }

    #[test]
    fn a_result_that_changes_is_neither_passed_nor_failed() {
        let changed = calm(&[broken(), held()]);
        assert!(is_decided(&changed, 1));
        assert!(matches!(outcome(&changed, 1), Outcome::Unsteady(_)));
    }

    #[test]
    fn a_strained_machine_makes_any_result_doubtful_and_one_more_run_necessary() {
        assert!(!is_decided(&strained(&[held()]), 1));
        assert!(is_decided(&strained(&[held(), held()]), 1));
        assert!(!is_decided(&strained(&[broken(), broken()]), 1));
        assert!(is_decided(&strained(&[broken(), broken(), broken()]), 1));
    }

    #[test]
    fn a_rule_that_was_kept_is_decided_at_once() {
        assert!(is_decided(&calm(&[held()]), 1));
        assert!(matches!(
            outcome(&calm(&[held()]), 1),
            Outcome::Passed { .. }
        ));
    }

    #[test]
    fn a_run_that_shows_nothing_is_no_answer_to_one_that_shows_a_broken_rule() {
        for first in [[not_judged(), broken()], [broken(), not_judged()]] {
            let mut attempts = calm(&first);
            assert!(!is_decided(&attempts, 1), "{first:?}");
            attempts.push(attempt(broken(), 0));
            assert!(is_decided(&attempts, 1));
            assert!(matches!(outcome(&attempts, 1), Outcome::Failed(_)));
        }
        let never_again = calm(&[broken(), not_judged(), not_judged(), not_judged()]);
        assert!(is_decided(&never_again, 1));
        assert!(matches!(outcome(&never_again, 1), Outcome::Unsteady(_)));
    }

    #[test]
    fn what_a_strained_machine_left_open_is_tried_once_more_and_the_run_that_shows_something_counts()
     {
        assert!(is_decided(&calm(&[not_judged()]), 1));
        assert!(!is_decided(&strained(&[not_judged()]), 1));
        assert!(is_decided(&strained(&[not_judged(), not_judged()]), 1));
        let mut at_last = strained(&[not_judged()]);
        at_last.push(attempt(held(), 0));
        assert!(is_decided(&at_last, 1));
        assert!(matches!(outcome(&at_last, 1), Outcome::Passed { .. }));
    }

    #[test]
    fn of_two_runs_that_kept_the_rule_the_one_of_the_calmer_machine_is_told_of() {
        let note = |word: &str| Verdict::Held {
            note: word.to_owned(),
        };
        let attempts = [attempt(note("half"), 500), attempt(note("all"), 10)];
        let whole = Outcome::Passed {
            note: "all".to_owned(),
        };
        assert_eq!(outcome(&attempts, 1), whole);
    }

    proptest! {
        #[test]
        fn whatever_the_runs_show_they_come_to_an_end_and_nobody_is_accused_who_kept_the_rule_once(
            runs in prop::collection::vec((0..3_u8, 0..1000_u64), 12),
            repeats in 0..4_usize,
        ) {
            let mut attempts = Vec::new();
            for (verdict, delay_ms) in runs {
                attempts.push(attempt([broken(), held(), not_judged()][usize::from(verdict)].clone(), delay_ms));
                if is_decided(&attempts, repeats) {
                    break;
                }
            }
            prop_assert!(is_decided(&attempts, repeats));
            prop_assert!(attempts.len() <= repeats + 2 + MADE_UP_FOR);
            let kept = attempts.iter().any(|attempt| attempt.verdict == held());
            let found = outcome(&attempts, repeats);
            prop_assert!(!(kept && matches!(found, Outcome::Failed(_))));
        }
    }
}
