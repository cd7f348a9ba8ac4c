//! Watchers with any rhythm are never accused, and mistakes are found.

use std::time::Duration;

use proptest::prelude::*;

use super::*;
use crate::event::{Event, EventKind};
use crate::oracle::model::{Mistake, Model, Trouble, World, judge};

/// Any correct watcher: slow or quick, silent while nothing changes, with a display of its own pace.
fn watchers() -> impl Strategy<Value = Model> {
    let pace = prop_oneof![Just(None), (100_u64..1000).prop_map(Some)];
    (
        300_u64..6000,
        200_u64..2000,
        0_u64..200,
        pace,
        any::<bool>(),
        any::<bool>(),
    )
        .prop_map(
            |(interval, time_out, handling, display, on_change, backs_off)| Model {
                interval,
                time_out,
                handling,
                display: display.map(|pace| pace.min(interval)),
                on_change,
                backs_off,
                mistake: None,
            },
        )
}

fn ms(span: Duration) -> u64 {
    u64::try_from(span.as_millis()).unwrap()
}

/// A fault at any moment of a watcher's rhythm, for as long as a plan lets it last.
fn world(model: &Model, trouble: Trouble, phase: u64) -> World {
    let timing = model.timing();
    let raised = 6 * model.interval + 3000 + phase % model.interval;
    let lasts = ms(timing.unknown_within() + 2 * timing.longest_interval);
    let cleared = raised + lasts;
    World {
        trouble: Some(trouble),
        raised,
        cleared,
        change: raised + 20,
        from_finished: false,
        nap: None,
        end: cleared
            + ms(timing.recovery_within(Duration::from_millis(lasts)) + timing.interval)
            + 1500,
    }
}

fn verdict(model: &Model, trouble: Trouble, phase: u64, owed: Owed) -> Verdict {
    let events = model.observed(world(model, trouble, phase));
    judge(&events, model.timing(), |trace| verify_fault(trace, owed))
}

proptest! {
    #[test]
    fn no_correct_watcher_is_accused_when_no_answer_comes(model in watchers(), phase: u64) {
        for trouble in [Trouble::Refused, Trouble::Silent, Trouble::Cut] {
            let verdict = verdict(&model, trouble, phase, Owed::Unknown);
            prop_assert!(matches!(verdict, Verdict::Held { .. }), "{:?} {:?}", trouble, verdict);
        }
    }

    #[test]
    fn no_correct_watcher_is_accused_when_answers_come_late(model in watchers(), phase: u64, late in 0_u64..1500) {
        let verdict = verdict(&model, Trouble::Late(late), phase, Owed::RightOrUnknown);
        prop_assert!(matches!(verdict, Verdict::Held { .. }), "{:?}", verdict);
    }

    #[test]
    fn no_correct_watcher_is_accused_when_every_second_answer_is_lost(model in watchers(), phase: u64) {
        let model = Model { backs_off: false, ..model };
        let verdict = verdict(&model, Trouble::EverySecond, phase, Owed::Right);
        prop_assert!(matches!(verdict, Verdict::Held { .. }), "{:?}", verdict);
    }

    #[test]
    fn whoever_keeps_the_last_value_is_found(model in watchers(), phase: u64) {
        let model = Model { mistake: Some(Mistake::KeepsTheLast), ..model };
        for trouble in [Trouble::Refused, Trouble::Silent, Trouble::Cut] {
            assert_broken(&verdict(&model, trouble, phase, Owed::Unknown), "old data shown as live")?;
        }
    }

    #[test]
    fn whoever_believes_a_cut_body_is_found(model in watchers(), phase: u64) {
        let model = Model { mistake: Some(Mistake::BelievesACutBody), ..model };
        let told = "an answer that never came whole";
        assert_broken(&verdict(&model, Trouble::Cut, phase, Owed::Unknown), told)?;
    }

    #[test]
    fn whoever_waits_without_end_is_found(model in watchers(), phase: u64) {
        let model = Model { mistake: Some(Mistake::NeverTimesOut), ..model };
        assert_broken(&verdict(&model, Trouble::Silent, phase, Owed::Unknown), "old data shown as live")?;
    }

    #[test]
    fn whoever_gives_up_after_a_failure_is_found(model in watchers(), phase: u64) {
        // A display says unknown by itself; else nothing more is said at all.
        let model = Model { mistake: Some(Mistake::GivesUp), ..model };
        assert_broken(&verdict(&model, Trouble::Refused, phase, Owed::Unknown), "not in ")?;
        let ends = Model { mistake: Some(Mistake::Ends), ..model };
        assert_broken(&verdict(&ends, Trouble::Refused, phase, Owed::Unknown), "it ended by itself")?;
    }
}

fn assert_broken(verdict: &Verdict, observed: &str) -> Result<(), TestCaseError> {
    match verdict {
        Verdict::Violated(violations) => {
            let seen = &violations[0].observed;
            prop_assert!(seen.contains(observed), "{}", seen);
            Ok(())
        }
        other => Err(TestCaseError::fail(format!("{other:?}"))),
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

const BELIEVES: Model = Model {
    mistake: Some(Mistake::BelievesACutBody),
    ..STEADY
};

/// Gives what a watcher does while its answers are cut, with each event changed.
fn changed(
    model: &Model,
    trouble: Trouble,
    change: impl Fn(EventKind) -> Option<EventKind>,
) -> Vec<Event> {
    let events = model.observed(world(model, trouble, 300)).into_iter();
    let changed = events.filter_map(|event| {
        Some(Event {
            kind: change(event.kind)?,
            ..event
        })
    });
    changed.collect()
}

#[test]
fn a_json_text_shows_that_it_is_cut_and_other_text_does_not() {
    let json = changed(&BELIEVES, Trouble::Cut, Some);
    let verdict = judge(&json, STEADY.timing(), verify_short_length);
    assert!(matches!(verdict, Verdict::Violated(_)), "{verdict:?}");
    let text = changed(&BELIEVES, Trouble::Cut, |kind| match kind {
        EventKind::Answer {
            exchange,
            status,
            headers,
            truth,
            ..
        } => {
            let body = bytes::Bytes::from_static(b"a = 1");
            Some(EventKind::Answer {
                exchange,
                status,
                headers,
                body,
                truth,
            })
        }
        other => Some(other),
    });
    let verdict = judge(&text, STEADY.timing(), verify_short_length);
    assert!(matches!(verdict, Verdict::Held { .. }), "{verdict:?}");
}

#[test]
fn only_who_has_asked_with_a_condition_may_believe_a_304() {
    let keeps = Model {
        mistake: Some(Mistake::KeepsTheLast),
        ..STEADY
    };
    let mut events = changed(&keeps, Trouble::Cut, Some);
    let verdict = judge(&events, STEADY.timing(), verify_unasked_not_modified);
    assert!(matches!(verdict, Verdict::Violated(_)), "{verdict:?}");
    let request = EventKind::Request {
        connection: 1,
        exchange: 900,
        method: "GET".to_owned(),
        target: "/printer".to_owned(),
        headers: vec![("if-none-match".to_owned(), "\"1\"".to_owned())],
        body: bytes::Bytes::new(),
    };
    let at = Duration::from_millis(world(&keeps, Trouble::Cut, 300).raised + 100);
    let place = events.partition_point(|event| event.at <= at);
    events.insert(place, Event { at, kind: request });
    let verdict = judge(&events, STEADY.timing(), verify_unasked_not_modified);
    assert!(matches!(verdict, Verdict::NotJudged { .. }), "{verdict:?}");
}

#[test]
fn a_silent_stream_is_judged_where_there_is_one() {
    let long = |model: &Model| {
        let world = World {
            cleared: 60_000,
            end: 150_000,
            ..world(model, Trouble::Refused, 300)
        };
        model.observed(world)
    };
    let pushed = |events: Vec<Event>| -> Vec<Event> {
        let kind = |kind| match kind {
            EventKind::Answer {
                exchange,
                body,
                truth,
                ..
            } => EventKind::Pushed {
                exchange,
                bytes: body,
                truth,
            },
            other => other,
        };
        events
            .into_iter()
            .map(|event| Event {
                kind: kind(event.kind),
                ..event
            })
            .collect()
    };
    let polled = judge(&long(&STEADY), STEADY.timing(), verify_stream_outage);
    assert!(matches!(polled, Verdict::NotJudged { .. }), "{polled:?}");
    let told = judge(
        &pushed(long(&STEADY)),
        STEADY.timing(),
        verify_stream_outage,
    );
    assert!(matches!(told, Verdict::Held { .. }), "{told:?}");
    let keeps = Model {
        mistake: Some(Mistake::KeepsTheLast),
        ..STEADY
    };
    let old = judge(&pushed(long(&keeps)), STEADY.timing(), verify_stream_outage);
    assert!(matches!(old, Verdict::Violated(_)), "{old:?}");
}

#[test]
fn an_event_at_the_printer_lasts_as_long_as_the_clock_makes_it() {
    let World {
        raised, cleared, ..
    } = world(&STEADY, Trouble::Refused, 300);
    let lasts = 2 * (cleared - raised);
    let restart = |model: &Model| {
        let mut events = changed(model, Trouble::Refused, |kind| match kind {
            EventKind::FaultRaised { .. } => Some(EventKind::PrinterEvent {
                event: format!(r#"{{"action":"host-restart","lasts":"{lasts}ms"}}"#),
            }),
            EventKind::FaultCleared => None,
            other => Some(other),
        });
        let virtual_time = coldbed_mock::sim::VirtualTime::ZERO;
        let kind = EventKind::Clock {
            virtual_time,
            rate: 2.0,
        };
        events.insert(
            0,
            Event {
                at: Duration::ZERO,
                kind,
            },
        );
        judge(&events, STEADY.timing(), verify_outage)
    };
    match restart(&STEADY) {
        Verdict::Held { note } => assert!(note.contains("back "), "{note}"),
        other => panic!("{other:?}"),
    }
    let keeps = Model {
        mistake: Some(Mistake::KeepsTheLast),
        ..STEADY
    };
    assert!(matches!(restart(&keeps), Verdict::Violated(_)));
}

#[test]
fn who_waits_as_long_as_the_host_asks_is_not_late() {
    // Silent after the fault for longer than any watcher may be of itself.
    let back = |told: Option<&str>| {
        let World { cleared, .. } = world(&STEADY, Trouble::Refused, 300);
        let mut events = STEADY.observed(World {
            end: cleared + 60_000,
            ..world(&STEADY, Trouble::Refused, 300)
        });
        let late = Duration::from_millis(cleared + 30_000);
        let early = |event: &Event| event.at > Duration::from_millis(cleared) && event.at < late;
        events.retain(|event| !early(event) || !matches!(event.kind, EventKind::Sighting(_)));
        if let Some(seconds) = told {
            let [truth, _] = crate::oracle::model::truths();
            let kind = EventKind::Answer {
                exchange: 901,
                status: 503,
                headers: vec![("retry-after".to_owned(), seconds.to_owned())],
                body: bytes::Bytes::new(),
                truth,
            };
            let at = Duration::from_millis(cleared - 100);
            let place = events.partition_point(|event| event.at <= at);
            events.insert(place, Event { at, kind });
        }
        judge(&events, STEADY.timing(), verify_outage)
    };
    assert!(matches!(back(None), Verdict::Violated(_)));
    assert!(matches!(back(Some("30")), Verdict::Held { .. }));
}

#[test]
fn a_dead_connection_that_is_never_replaced_is_found_while_the_fault_lasts() {
    let silent = verdict(&STEADY, Trouble::Silent, 300, Owed::RightAgain);
    assert!(matches!(silent, Verdict::Violated(_)), "{silent:?}");
    let second = verdict(&STEADY, Trouble::EverySecond, 300, Owed::RightAgain);
    assert!(matches!(second, Verdict::Held { .. }), "{second:?}");
}

#[test]
fn unknown_for_good_under_a_harmless_fault_is_wrong() {
    let refuses = changed(&STEADY, Trouble::Late(1500), |kind| match kind {
        // Nothing is wrong with the answers: they only look unusual.
        EventKind::FaultHappened {
            connection,
            exchange,
            ..
        } => {
            let fault = coldbed_mock::fault::Fault::Twice;
            let fault = std::sync::Arc::new(fault.into());
            Some(EventKind::FaultHappened {
                connection,
                exchange,
                fault,
            })
        }
        other => Some(other),
    });
    let verdict = judge(&refuses, STEADY.timing(), |trace| {
        verify_fault(trace, Owed::Right)
    });
    assert!(matches!(verdict, Verdict::Violated(_)), "{verdict:?}");
}

#[test]
fn an_answer_that_crosses_the_fault_does_not_hide_a_wait_without_end() {
    // Asked for just before the fault and answered just after it.
    let waits = Model {
        interval: 487,
        time_out: 200,
        handling: 0,
        mistake: Some(Mistake::NeverTimesOut),
        ..STEADY
    };
    for phase in 0..487 {
        let verdict = verdict(&waits, Trouble::Silent, phase, Owed::Unknown);
        assert!(
            matches!(verdict, Verdict::Violated(_)),
            "{phase}: {verdict:?}"
        );
    }
}
