//! What grows.

use super::*;
use crate::watcher::Resources;

/// Fifty polls a second for half a minute, measured five times a second.
fn run(resident: impl Fn(u64) -> u64, open: impl Fn(u64) -> u64) -> Run {
    let run = Run::default()
        .answer(0, &a_truth())
        .claim(1, r#"{"phase":"heating"}"#);
    (1..1500_u64).fold(run, |run, poll| {
        let run = run.get(poll * 20);
        if poll % 10 != 0 {
            return run;
        }
        let resources = Resources {
            resident_bytes: resident(poll),
            open_files: open(poll),
            processes: 1,
            ..Resources::default()
        };
        run.note(poll * 20 + 5, EventKind::Resources(resources))
    })
}

#[test]
fn memory_that_comes_and_goes_does_not_grow_and_a_body_kept_each_poll_does() {
    // Collected every hundred polls.
    let collected = run(|poll| 9_000_000 + 1000 * (poll % 100), |_| 8);
    assert_held(&collected.judge(verify_memory_does_not_grow));
    let kept = run(|poll| 9_000_000 + 5000 * poll, |_| 8);
    let verdict = kept.judge(verify_memory_does_not_grow);
    let Verdict::Violated(violations) = &verdict else {
        panic!("{verdict:?}");
    };
    assert!(violations[0].observed.starts_with("5000 bytes a poll"));
}

#[test]
fn a_rise_that_a_collector_has_not_looked_at_yet_is_not_judged() {
    // 1125 polls are looked at: 4 MiB are 3.7 kB a poll, 64 MiB are 60 kB.
    for (size, rise, is_judged) in [
        (9_000_000, 3000, false),
        (9_000_000, 4500, true),
        (50_000_000, 40_000, false),
        (50_000_000, 70_000, true),
    ] {
        let verdict = run(|poll| size + rise * poll, |_| 8).judge(verify_memory_does_not_grow);
        let violated = matches!(verdict, Verdict::Violated(_));
        assert_eq!(violated, is_judged, "{size} {rise}: {verdict:?}");
        assert!(!matches!(verdict, Verdict::Held { .. }), "{verdict:?}");
    }
}

#[test]
fn growth_that_may_be_chance_is_not_judged() {
    // As much as is allowed: the interval holds more and less.
    let doubtful = run(|poll| 9_000_000 + 256 * poll, |_| 8);
    assert_not_judged(&doubtful.judge(verify_memory_does_not_grow));
    let nothing = Run::default().answer(0, &a_truth());
    assert_not_judged(&nothing.judge(verify_memory_does_not_grow));
}

#[test]
fn a_file_open_now_and_then_is_fine_and_one_left_open_in_ten_polls_is_not() {
    let now_and_then = run(|_| 9_000_000, |poll| 8 + u64::from(poll % 3 == 0));
    assert_held(&now_and_then.judge(verify_open_files_do_not_grow));
    let left = run(|_| 9_000_000, |poll| 8 + poll / 10);
    let verdict = left.judge(verify_open_files_do_not_grow);
    assert!(matches!(verdict, Verdict::Violated(_)), "{verdict:?}");
}

#[test]
fn only_what_is_left_open_while_all_fails_counts_as_left_by_failures() {
    let failing = |open: fn(u64) -> u64| {
        let run = run(|_| 9_000_000, open);
        let fault = "cut off".to_owned();
        let raised = Event {
            at: Duration::from_millis(1),
            kind: EventKind::FaultRaised {
                fault,
                begun: Duration::from_millis(1),
            },
        };
        Run([vec![run.0[0].clone(), raised], run.0[1..].to_vec()].concat())
            .judge(verify_open_files_do_not_grow_with_failures)
    };
    assert_held(&failing(|_| 8));
    let verdict = failing(|poll| 8 + poll);
    assert!(matches!(verdict, Verdict::Violated(_)), "{verdict:?}");
    let never = run(|_| 9_000_000, |poll| 8 + poll);
    assert_not_judged(&never.judge(verify_open_files_do_not_grow_with_failures));
}
