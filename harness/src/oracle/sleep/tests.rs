//! Sleepers with any rhythm are never accused, and mistakes are found.

use std::time::Duration;

use proptest::prelude::*;

use super::*;
use crate::oracle::model::{self, Mistake, Model, World, judge};

fn sleepers() -> impl Strategy<Value = Model> {
    let pace = prop_oneof![Just(None), (100_u64..1000).prop_map(Some)];
    (
        300_u64..4000,
        200_u64..2000,
        0_u64..200,
        pace,
        any::<bool>(),
    )
        .prop_map(|(interval, time_out, handling, display, on_change)| Model {
            interval,
            time_out,
            handling,
            display: display.map(|pace| pace.min(interval)),
            on_change,
            backs_off: false,
            mistake: None,
        })
}

/// A sleep that begins at any moment of a watcher's rhythm, across the end of the print.
fn world(model: &Model, phase: u64) -> World {
    let timing = model.timing();
    let ms = |span: Duration| u64::try_from(span.as_millis()).unwrap();
    let asleep = 6 * model.interval + 3000 + phase % model.interval;
    let awake = asleep + ms(timing.unknown_within() + timing.longest_interval);
    World {
        trouble: None,
        raised: 0,
        cleared: 0,
        change: asleep + 10,
        from_finished: false,
        nap: Some((asleep, awake)),
        end: awake + ms(timing.awake_within()) + 2 * model.interval + 1500,
    }
}

fn verdict(model: &Model, world: World, verify: fn(&Trace<'_>) -> Verdict) -> Verdict {
    judge(&model.observed(world), model.timing(), verify)
}

fn waking(trace: &Trace<'_>) -> Verdict {
    verify_waking(trace, UnderWay::Shown)
}

proptest! {
    #[test]
    fn no_correct_sleeper_is_accused_whenever_it_was_stopped(model in sleepers(), phase: u64) {
        for verify in [waking, verify_finish_after_waking] {
            let verdict = verdict(&model, world(&model, phase), verify);
            prop_assert!(matches!(verdict, Verdict::Held { .. }), "{:?}", verdict);
        }
    }

    #[test]
    fn a_display_that_shows_the_old_value_after_waking_is_found(interval in 600_u64..3000, phase in 100_u64..500) {
        // It looks at no clock, and is drawn more often than the host is asked.
        let model = Model {
            interval,
            time_out: 1000,
            handling: 0,
            display: Some(100),
            on_change: false,
            backs_off: false,
            mistake: Some(Mistake::KeepsTheLast),
        };
        // Stopped in the midst of a display's tick, well after an answer and well before the next poll.
        let mut world = world(&model, 0);
        let (asleep, awake) = world.nap.unwrap();
        let asleep = asleep / interval * interval + phase / 100 * 100 + 50;
        world.nap = Some((asleep, awake));
        let verdict = verdict(&model, world, waking);
        prop_assert!(matches!(verdict, Verdict::Violated(_)), "{:?}", verdict);
    }
}

const STEADY: Model = Model {
    interval: 1000,
    time_out: 1000,
    handling: 10,
    display: None,
    on_change: false,
    backs_off: false,
    mistake: None,
};

/// Gives a run in which the steady watcher says a further thing so long after its waking.
fn with_claim(after_ms: u64, claim: crate::watcher::Sighting) -> Verdict {
    let world = world(&STEADY, 300);
    let mut events = STEADY.observed(world);
    let awake = world.nap.map_or(0, |(_, awake)| awake);
    let at = Duration::from_millis(awake + after_ms);
    let place = events.partition_point(|event| event.at <= at);
    let kind = EventKind::Sighting(claim);
    events.insert(place, crate::event::Event { at, kind });
    judge(&events, STEADY.timing(), waking)
}

#[test]
fn an_old_claim_after_waking_is_wrong_and_unknown_is_not() {
    let [before, _] = model::truths();
    assert!(matches!(
        with_claim(1, model::unknown()),
        Verdict::Held { .. }
    ));
    for after_ms in [1, 500, 5000] {
        match with_claim(after_ms, model::claim_of(&before)) {
            Verdict::Violated(violations) => {
                assert!(violations[0].observed.ends_with("old data shown as live"));
            }
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn a_watcher_that_says_nothing_after_waking_is_found() {
    let world = world(&STEADY, 300);
    let awake = Duration::from_millis(world.nap.unwrap().1);
    let mut silent = STEADY.observed(world);
    silent.retain(|event| event.at <= awake || !matches!(event.kind, EventKind::Sighting(_)));
    let verdict = judge(&silent, STEADY.timing(), waking);
    assert!(matches!(verdict, Verdict::Violated(_)), "{verdict:?}");
}

#[test]
fn whoever_latches_a_finished_print_is_found_when_it_wakes_in_the_next_one() {
    let world = World {
        from_finished: true,
        ..world(&STEADY, 300)
    };
    let latched = Model {
        mistake: Some(Mistake::Latches),
        ..STEADY
    };
    let verdict = judge(&latched.observed(world), STEADY.timing(), waking);
    assert!(matches!(verdict, Verdict::Violated(_)), "{verdict:?}");
    let verdict = judge(&STEADY.observed(world), STEADY.timing(), waking);
    assert!(matches!(verdict, Verdict::Held { .. }), "{verdict:?}");
}

#[test]
fn an_answer_under_way_may_be_shown_or_is_old_as_it_is_asked() {
    // The steady watcher is stopped between an answer, at 2 ms, and its claim, at 12 ms.
    let world = world(&STEADY, 5);
    let events = STEADY.observed(world);
    let old = |trace: &Trace<'_>| verify_waking(trace, UnderWay::Old);
    assert!(matches!(
        judge(&events, STEADY.timing(), waking),
        Verdict::Held { .. }
    ));
    assert!(matches!(
        judge(&events, STEADY.timing(), old),
        Verdict::Violated(_)
    ));
}

#[test]
fn what_was_never_stopped_is_not_judged() {
    let world = World {
        nap: None,
        ..world(&STEADY, 300)
    };
    let verdict = judge(&STEADY.observed(world), STEADY.timing(), waking);
    assert!(matches!(verdict, Verdict::NotJudged { .. }), "{verdict:?}");
}
