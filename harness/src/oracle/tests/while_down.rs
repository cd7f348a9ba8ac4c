//! Asking a host that is in trouble: once a second is the watcher's own pace.

use super::*;

/// Trouble from 10 s on for so many seconds, with requests at these milliseconds after its beginning.
fn trouble(seconds: u64, asked_ms: impl IntoIterator<Item = u64>) -> Run {
    Run::default()
        .trial(9000, "503")
        .raised(10_000)
        .get_all(asked_ms.into_iter().map(|at| 10_000 + at))
        .cleared(10_000 + 1000 * seconds)
        .trial_ended(10_001 + 1000 * seconds)
}

#[test]
fn three_requests_a_poll_are_no_hammering_and_ten_are() {
    // 4 s: twelve requests, and five more.
    let three = trouble(4, (0..12).map(|n| n * 333));
    assert_held(&three.judge(verify_no_hammering));
    let ten = trouble(4, (0..40).map(|n| n * 100));
    assert_violated(&ten.judge(verify_no_hammering), "40 requests");
    assert_not_judged(&trouble(4, []).judge(verify_no_hammering));
}

#[test]
fn a_watcher_that_asks_for_several_targets_does_not_hammer_by_that() {
    let run = Run::default().trial(0, "503").raised(0);
    let run = (0..4).fold(run, |run, second| {
        (0..10).fold(run, |run, heater| {
            let target = format!("/heaters/{heater}");
            run.request(1000 * second + heater, "GET", &target, &[])
        })
    });
    assert_held(
        &run.cleared(4000)
            .trial_ended(4000)
            .judge(verify_no_hammering),
    );
}

#[test]
fn doubled_waits_are_a_back_off_and_the_usual_pace_is_none() {
    let doubled = trouble(12, [0, 1000, 3000, 7000]);
    assert_held(&doubled.judge(verify_backs_off));
    // A repeat of the library's own at the first failure, and waits that grow by a second each.
    let linear = trouble(12, [0, 10, 1000, 3000, 6000, 10_000]);
    assert_held(&linear.judge(verify_backs_off));
    let usual = trouble(12, (0..12).map(|n| n * 1000));
    assert_violated(&usual.judge(verify_backs_off), "12 requests");
    assert_not_judged(&trouble(12, []).judge(verify_backs_off));
}

/// The same without a trial, and well again for half a minute.
fn outage(asked_ms: impl IntoIterator<Item = u64>) -> Run {
    let (meanwhile, after): (Vec<u64>, Vec<u64>) =
        asked_ms.into_iter().partition(|at| *at < 20_000);
    Run::default()
        .raised(0)
        .get_all(meanwhile)
        .cleared(20_000)
        .get_all(after)
        .note(70_000, EventKind::Resumed)
}

#[test]
fn doubled_waits_and_waits_of_a_minute_at_the_end_are_no_giving_up() {
    let doubled = outage([0, 1000, 3000, 7000, 15_000, 31_000]);
    assert_held(&doubled.judge(verify_asks_again));
    let steady = outage((0..25).map(|n| 1000 * n));
    assert_held(&steady.judge(verify_asks_again));
}

#[test]
fn five_tries_and_no_more_are_a_giving_up() {
    let five = outage([0, 1000, 2000, 3000, 4000]);
    // 8 s, and two intervals.
    assert_violated(&five.judge(verify_asks_again), "none for 66.0 s");
    let tenfold = outage(
        [0, 1000, 10_000, 100_000]
            .into_iter()
            .filter(|at| *at < 70_000),
    );
    assert_violated(&tenfold.judge(verify_asks_again), "none for 60.0 s");
}

#[test]
fn a_run_that_ends_too_soon_says_nothing_of_giving_up() {
    let run = Run::default().raised(0).get(0).cleared(5000);
    assert_not_judged(&run.judge(verify_asks_again));
    assert_not_judged(&Run::default().get(0).judge(verify_asks_again));
}

fn after_outage(asked_ms: &[u64]) -> Verdict {
    Run::default()
        .raised(0)
        .get_all([0, 5, 10])
        .cleared(10_000)
        .get_all(asked_ms.iter().map(|at| 10_000 + at))
        .judge(|trace| verify_no_herd(trace, 6))
}

#[test]
fn five_of_six_in_a_tenth_of_an_interval_are_a_herd_and_four_are_none() {
    let herd = after_outage(&[300, 1000, 1010, 1020, 1030, 1040]);
    assert_violated(&herd, "5 within 0.040 s");
    assert_held(&after_outage(&[300, 700, 1010, 1020, 1030, 1040]));
    assert_held(&after_outage(&[0, 300, 800, 1400, 2900, 3100]));
    assert_not_judged(&after_outage(&[1000, 1010]));
}
