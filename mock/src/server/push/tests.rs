//! The states of a route, without a connection.

use std::sync::Arc;
use std::time::Duration;

use http::{HeaderMap, Method};
use serde_json::Value;

use super::feed::{Entry, Look};
use super::follower::{Follower, Message};
use crate::dialect::{
    Access, DialectFile, EventStreamPlan, Matched, Order, PushForm, PushMessages, PushOn, PushPlan,
    Request, Routed,
};
use crate::drift::{
    AddMember, ByteOrderMark, Drift, DriftBoard, DriftClass, EmptyBody, InvalidUtf8, Pad,
    ReplaceByNull,
};
use crate::scenario::Scenario;
use crate::server::printer::Printer;
use crate::sim::{Command, Simulation, VirtualTime};

struct Bench {
    printer: Printer,
    drifts: DriftBoard,
    matched: Matched,
    pause: Matched,
}

impl Bench {
    fn of(scenario: &str) -> Self {
        let dialect = Arc::new(DialectFile::builtin("plain").unwrap());
        let scenario = Scenario::builtin(scenario).unwrap().unwrap();
        let simulation = Simulation::new(Arc::new(scenario), 1);
        let drifts = DriftBoard::default();
        let route = |method, path| {
            let headers = HeaderMap::new();
            let request = Request {
                method: &method,
                path,
                query: None,
                headers: &headers,
                body: b"",
            };
            match dialect.first().route(&request, &Access::OPEN) {
                Routed::Push(matched) | Routed::Command(matched) => matched,
                other => panic!("{other:?}"),
            }
        };
        Self {
            matched: route(Method::GET, "/printer/events"),
            pause: route(Method::POST, "/job/pause"),
            printer: Printer::new(
                simulation,
                Arc::clone(&dialect),
                crate::fault::FaultBoard::default(),
                drifts.clone(),
            ),
            drifts,
        }
    }

    fn look(&mut self, at: VirtualTime) -> Arc<Entry> {
        match self.printer.look(at, &self.matched, None) {
            Look::State { entry, .. } => entry,
            other => panic!("{other:?}"),
        }
    }
}

fn at_s(seconds: u64) -> VirtualTime {
    VirtualTime::new(Duration::from_secs(seconds))
}

fn follower(on: PushOn, messages: PushMessages) -> Follower {
    Follower::new(&plan(on, messages, None))
}

fn plan(on: PushOn, messages: PushMessages, patch_event: Option<&str>) -> PushPlan {
    PushPlan {
        period: Duration::from_millis(10),
        on,
        messages,
        form: PushForm::ServerSentEvents(EventStreamPlan {
            event: None,
            patch_event: patch_event.map(str::to_owned),
            keep_alive: Duration::from_secs(15),
            retry: Duration::from_secs(2),
        }),
    }
}

fn json(bytes: &[u8]) -> Value {
    serde_json::from_slice(bytes).unwrap()
}

#[test]
fn all_who_look_at_one_moment_share_one_state() {
    let mut bench = Bench::of("printing");
    let one = bench.look(at_s(7200));
    let other = bench.look(at_s(7200) + Duration::from_millis(99));
    assert!(Arc::ptr_eq(&one, &other));
}

#[test]
fn what_changes_within_one_tick_has_numbers_of_its_own_and_the_next_tick_too() {
    let mut bench = Bench::of("printing");
    let mut ids = vec![bench.look(at_s(7200)).id];
    let pause = bench.pause.clone();
    let order = Order {
        command: Command::PauseJob,
        effect_after: Duration::ZERO,
        idempotency_key: None,
    };
    bench.printer.command(at_s(7200), &pause, order);
    ids.push(bench.look(at_s(7200)).id);
    let drift = bench.drifts.raise(Drift {
        name: "sample".to_owned(),
        pointer: "/job".to_owned(),
        change: ReplaceByNull.into(),
        class: DriftClass::Breaking,
    });
    ids.push(bench.look(at_s(7200)).id);
    drop(drift);
    ids.push(bench.look(at_s(7200)).id);
    // The tick after that would have the number 72001.
    ids.push(bench.look(at_s(7200) + Duration::from_millis(100)).id);
    ids.push(bench.look(at_s(7300)).id);
    assert_eq!(ids, [72_000, 72_001, 72_002, 72_003, 72_004, 73_000]);
}

#[test]
fn the_last_256_states_are_kept() {
    let mut bench = Bench::of("printing");
    let ids: Vec<u64> = (0..300).map(|s| bench.look(at_s(7200 + s)).id).collect();
    let since = |id| bench.printer.shown_since(&bench.matched, id);
    assert!(since(ids[300 - 257]).is_none());
    let kept = since(ids[300 - 256]).unwrap();
    let kept: Vec<u64> = kept.iter().map(|entry| entry.id).collect();
    assert_eq!(kept, ids[300 - 256..]);
    assert!(since(1).is_none(), "a number that was never given");
}

#[test]
fn a_host_that_has_restarted_knows_no_state_from_before() {
    let mut bench = Bench::of("host-restart");
    let before = bench.look(at_s(19 * 60)).id;
    let after = bench.look(at_s(21 * 60)).id;
    assert!(bench.printer.shown_since(&bench.matched, before).is_none());
    assert!(bench.printer.shown_since(&bench.matched, after).is_some());
}

#[test]
fn while_the_host_is_away_there_is_nothing_to_see() {
    let mut bench = Bench::of("host-restart");
    let matched = bench.matched.clone();
    let look = bench.printer.look(at_s(20 * 60 + 10), &matched, None);
    assert!(matches!(look, Look::Away), "{look:?}");
}

#[test]
fn who_lags_gets_one_patch_from_what_it_has_to_the_present() {
    let mut bench = Bench::of("printing");
    let mut prompt = follower(PushOn::Change, PushMessages::MergePatch);
    let mut slow = follower(PushOn::Change, PushMessages::MergePatch);
    let first = bench.look(at_s(7200));
    let mut shown = json(prompt.next(Arc::clone(&first)).unwrap().payload());
    let mut seen = json(slow.next(Arc::clone(&first)).unwrap().payload());
    for s in 1..=5 {
        let entry = bench.look(at_s(7200 + 60 * s));
        let message = prompt.next(entry).unwrap();
        assert!(matches!(message, Message::Patch(..)), "{message:?}");
        json_patch::merge(&mut shown, &json(message.payload()));
    }
    let last = bench.look(at_s(7500));
    let message = slow.next(Arc::clone(&last)).unwrap();
    assert!(message.payload().len() < last.body.len(), "{message:?}");
    json_patch::merge(&mut seen, &json(message.payload()));
    assert_eq!(seen, json(&last.body));
    assert_eq!(shown, seen);
    assert!(slow.next(last).is_none());
}

/// Gives drifts after which a body is no JSON.
fn breakages() -> Vec<Drift> {
    vec![
        Drift::of("", EmptyBody),
        Drift::of("", ByteOrderMark),
        Drift::of("/printer-state", InvalidUtf8),
    ]
}

#[test]
fn what_is_no_json_and_what_follows_it_are_sent_whole_where_patches_have_a_name() {
    for drift in breakages() {
        let mut bench = Bench::of("printing");
        let mut follower = Follower::new(&plan(
            PushOn::Change,
            PushMessages::MergePatch,
            Some("change"),
        ));
        let first = bench.look(at_s(7200));
        follower.next(Arc::clone(&first)).unwrap();
        let guard = bench.drifts.raise(drift);
        let during = bench.look(at_s(7200));
        assert_ne!(during.body, first.body);
        let message = follower.next(Arc::clone(&during)).unwrap();
        assert!(matches!(&message, Message::Full(entry) if Arc::ptr_eq(entry, &during)));
        drop(guard);
        let message = follower.next(bench.look(at_s(7260))).unwrap();
        assert!(matches!(message, Message::Full(_)), "{message:?}");
        let message = follower.next(bench.look(at_s(7320))).unwrap();
        assert!(matches!(message, Message::Patch(..)), "{message:?}");
    }
}

#[test]
fn where_a_whole_body_looks_like_a_patch_the_last_readable_state_is_patched() {
    for drift in breakages() {
        let mut bench = Bench::of("printing");
        let mut follower = follower(PushOn::Change, PushMessages::MergePatch);
        let first = bench.look(at_s(7200));
        let mut shown = json(follower.next(first).unwrap().payload());
        let extra = bench.drifts.raise(Drift::of(
            "",
            AddMember {
                member: "extra".to_owned(),
                value: Value::from(1),
            },
        ));
        let known = follower.next(bench.look(at_s(7200))).unwrap();
        json_patch::merge(&mut shown, &json(known.payload()));
        let guard = bench.drifts.raise(drift);
        for at in [7260, 7320] {
            let during = bench.look(at_s(at));
            let message = follower.next(Arc::clone(&during));
            // Of an empty body there is no other.
            assert!(message.is_none_or(|message| *message.payload() == during.body));
        }
        drop((guard, extra));
        let after = bench.look(at_s(7380));
        let message = follower.next(Arc::clone(&after)).unwrap();
        assert!(matches!(message, Message::OwnPatch(..)), "{message:?}");
        json_patch::merge(&mut shown, &json(message.payload()));
        assert_eq!(shown, json(&after.body), "a member that has gone is gone");
    }
}

#[test]
fn a_client_that_was_sent_nothing_readable_yet_gets_the_whole() {
    let mut bench = Bench::of("printing");
    let mut follower = follower(PushOn::Change, PushMessages::MergePatch);
    let guard = bench.drifts.raise(Drift::of("", ByteOrderMark));
    follower.next(bench.look(at_s(7200))).unwrap();
    drop(guard);
    let message = follower.next(bench.look(at_s(7200))).unwrap();
    assert!(matches!(message, Message::Full(_)), "{message:?}");
}

#[test]
fn states_of_bodies_of_20_megabytes_are_not_kept() {
    let mut bench = Bench::of("printing");
    let bytes = 20_000_000;
    let member = "pad".to_owned();
    let guard = bench.drifts.raise(Drift::of("", Pad { member, bytes }));
    let large: Vec<u64> = (0..3).map(|s| bench.look(at_s(7200 + s)).id).collect();
    let is_kept = |bench: &Bench, id| bench.printer.shown_since(&bench.matched, id).is_some();
    let kept =
        |bench: &Bench| -> Vec<bool> { large.iter().map(|id| is_kept(bench, *id)).collect() };
    assert_eq!(kept(&bench), [false, false, true]);
    drop(guard);
    bench.look(at_s(7300));
    assert_eq!(kept(&bench), [false, false, false]);
}

#[test]
fn who_lags_gets_the_present_state_where_messages_are_full() {
    let mut bench = Bench::of("printing");
    let mut slow = follower(PushOn::Change, PushMessages::Full);
    slow.next(bench.look(at_s(7200))).unwrap();
    bench.look(at_s(7260));
    let last = bench.look(at_s(7320));
    let message = slow.next(Arc::clone(&last)).unwrap();
    assert_eq!(message.payload(), &last.body);
}

#[test]
fn at_every_period_an_unchanged_state_is_a_patch_that_changes_nothing() {
    let mut bench = Bench::of("printing");
    let mut steady = follower(PushOn::Period, PushMessages::MergePatch);
    let entry = bench.look(at_s(7200));
    assert_eq!(
        steady.next(Arc::clone(&entry)).unwrap().payload(),
        &entry.body
    );
    assert_eq!(&steady.next(entry).unwrap().payload()[..], b"{}");
}
