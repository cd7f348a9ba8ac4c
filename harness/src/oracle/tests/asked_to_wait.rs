//! Hosts that ask for a rest.

use super::*;

const WAIT: Duration = Duration::from_secs(4);

/// Asked at 1 s, told to wait 10 ms later, asked again at that millisecond.
fn told_to_wait(again_ms: u64) -> Verdict {
    Run::default()
        .trial(0, "503")
        .get(1000)
        .status(1010, 1000, 503, &[("Retry-After", "4")])
        .get(again_ms)
        .trial_ended(9000)
        .judge(|trace| verify_retry_after(trace, WAIT))
}

#[test]
fn a_request_before_the_wait_is_over_breaks_it_and_one_after_it_keeps_it() {
    assert_held(&told_to_wait(5010));
    assert_held(&told_to_wait(8000));
    assert_violated(&told_to_wait(3010), "a request 2.0 s after it");
}

#[test]
fn another_target_may_be_asked_for_meanwhile() {
    let run = Run::default()
        .trial(0, "503")
        .get(1000)
        .status(1010, 1000, 503, &[("retry-after", "4")])
        .request(1100, "GET", "/job", &[])
        .get(6000)
        .trial_ended(6000);
    assert_held(&run.judge(|trace| verify_retry_after(trace, WAIT)));
}

#[test]
fn a_wait_that_nobody_was_asked_for_or_that_is_not_over_is_not_judged() {
    let never = Run::default().trial(0, "503").get(1000).trial_ended(9000);
    assert_not_judged(&never.judge(|trace| verify_retry_after(trace, WAIT)));
    let early = Run::default()
        .trial(0, "503")
        .get(1000)
        .status(1010, 1000, 503, &[("retry-after", "4")])
        .trial_ended(2000);
    assert_not_judged(&early.judge(|trace| verify_retry_after(trace, WAIT)));
}

fn a_year(meanwhile_ms: impl IntoIterator<Item = u64>, back_ms: Option<u64>) -> Verdict {
    let run = Run::default().raised(0).get_all(meanwhile_ms).cleared(3000);
    let run = match back_ms {
        Some(at) => run.get(at).status(at + 10, at, 200, &[]),
        None => run,
    };
    run.note(75_000, EventKind::Resumed)
        .judge(verify_sleeps_no_year)
}

#[test]
fn a_year_is_cut_to_a_minute_and_neither_kept_nor_taken_for_nothing() {
    assert_held(&a_year([500], Some(65_000)));
    assert_held(&a_year([500, 1500], Some(4000)));
    assert_violated(&a_year([500], None), "nothing for 72.0 s");
    // More milliseconds than a timer holds: at once, again and again.
    assert_violated(&a_year((0..30).map(|n| n * 100), Some(4000)), "30 requests");
    assert_not_judged(&a_year([], Some(4000)));
}

/// On a busy machine a request can meet the fault before the harness gets to say that it is raised.
#[test]
fn what_met_the_fault_before_it_was_told_was_asked_in_it() {
    let raised_late = |begun: u64, oracle: fn(&Trace<'_>) -> Verdict| {
        let run = Run::default().get_all([950]);
        let fault = "503".to_owned();
        let begun = std::time::Duration::from_millis(begun);
        let run = run.note(1000, EventKind::FaultRaised { fault, begun });
        let run = run.cleared(4000).get(65_000);
        run.status(65_010, 65_000, 200, &[])
            .note(75_000, EventKind::Resumed)
            .judge(oracle)
    };
    assert_held(&raised_late(940, verify_sleeps_no_year));
    assert_not_judged(&raised_late(960, verify_sleeps_no_year));
    assert_violated(&raised_late(940, verify_asks_again), "none for 64.0 s");
    assert_violated(&raised_late(960, verify_asks_again), "none for 64.0 s");
}
