//! Drifts that are generated for a body: for those of every built-in dialect.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use proptest::prelude::*;
use proptest::sample::select;
use proptest::strategy::ValueTree as _;
use proptest::test_runner::TestRunner;
use serde_json::Value;

use super::examples;
use super::*;
use crate::dialect::tests::json_bodies;
use crate::drift::generate::{drifts, drifts_of, places};

static BODIES: LazyLock<Vec<(String, Value)>> = LazyLock::new(|| {
    let mut bodies = json_bodies();
    bodies.push(("the example".to_owned(), examples::body()));
    bodies
});

fn body() -> impl Strategy<Value = Value> {
    select(&**BODIES).prop_map(|(_, body)| body)
}

fn body_with_drift() -> impl Strategy<Value = (Value, Drift)> {
    body().prop_flat_map(|body| (Just(body.clone()), drifts(&body)))
}

fn body_with(class: DriftClass) -> impl Strategy<Value = (Value, Drift)> {
    body().prop_flat_map(move |body| (Just(body.clone()), drifts_of(&body, class)))
}

fn body_with_some() -> impl Strategy<Value = (Value, Vec<Drift>)> {
    body().prop_flat_map(|body| {
        let some = prop::collection::vec(drifts(&body), 2..6);
        (Just(body), some)
    })
}

/// Tells whether everything of one value is at its place in the other, numbers as IEEE doubles.
fn has_all_of(old: &Value, new: &Value) -> bool {
    match (old, new) {
        (Value::Object(old), Value::Object(new)) => old
            .iter()
            .all(|(name, value)| new.get(name).is_some_and(|new| has_all_of(value, new))),
        (Value::Array(old), Value::Array(new)) => {
            new.len() >= old.len() && old.iter().zip(new).all(|(old, new)| has_all_of(old, new))
        }
        (Value::Number(old), Value::Number(new)) => old.as_f64() == new.as_f64(),
        _ => old == new,
    }
}

/// Gives the bytes of a body while drifts are in force.
fn wire(board: &DriftBoard, body: &Value) -> Vec<u8> {
    let mut body = body.clone();
    board.apply(&mut body);
    let spelled = board.spell(&body);
    spelled.unwrap_or_else(|| body.to_string().into_bytes())
}

proptest! {
    #[test]
    fn a_generated_drift_does_something_and_says_so_in_one_sentence((body, drift) in body_with_drift()) {
        prop_assert_eq!(drift.fits(&body), Ok(()));
        let sentence = drift.explain();
        prop_assert!(sentence.ends_with('.'), "{}", sentence);
        let place = match drift.change.stage() {
            Stage::Form => "the answer",
            _ if drift.pointer.is_empty() => "the whole body",
            _ => &drift.pointer,
        };
        prop_assert!(sentence.contains(place), "{}", sentence);
        prop_assert!(drift.effect(&body).is_ok());
        let suggested = Drift::of("", drift.change.clone());
        prop_assert_eq!(drift.class, suggested.class);
    }

    #[test]
    fn a_generated_drift_leaves_other_bodies_alone_or_fits_them_too(
        (_, drift) in body_with_drift(), other in body(),
    ) {
        let mut changed = other.clone();
        match drift.change.stage() {
            Stage::Shape => if drift.apply(&mut changed).is_err() {
                prop_assert_eq!(changed.to_string(), other.to_string());
            },
            Stage::Spelling => {
                let board = DriftBoard::default();
                let _guard = board.raise(drift.clone());
                prop_assert_eq!(board.spell(&other), drift.spell(&other).ok());
            }
            Stage::Form => prop_assert_eq!(drift.fits(&other), Ok(())),
        }
    }

    #[test]
    fn the_inverse_of_a_generated_drift_gives_the_body_back((body, drift) in body_with_drift()) {
        let undo = drift.inverse(&body);
        prop_assert_eq!(undo.is_some(), drift.change.stage() == Stage::Shape);
        if let Some(undo) = undo {
            let mut changed = body.clone();
            drift.apply(&mut changed).unwrap();
            undo.apply(&mut changed).unwrap();
            prop_assert_eq!(changed.to_string(), body.to_string());
        }
    }

    // Source: RFC 8259 sections 2 to 8, RFC 7493 section 4.2.
    #[test]
    fn under_a_compatible_drift_every_member_is_still_at_its_place(
        (body, drift) in body_with(DriftClass::Compatible),
    ) {
        let board = DriftBoard::default();
        let _guard = board.raise(drift.clone());
        let parsed: Value = serde_json::from_slice(&wire(&board, &body)).unwrap();
        prop_assert!(has_all_of(&body, &parsed), "{}", drift.explain());
        let adds = matches!(drift.change, Change::Corpus(_));
        if drift.change.stage() != Stage::Shape && !adds {
            prop_assert!(has_all_of(&parsed, &body), "{}", drift.explain());
        }
    }

    #[test]
    fn a_breaking_drift_changes_the_bytes_and_leaves_json_but_for_an_empty_body(
        (body, drift) in body_with(DriftClass::Breaking),
    ) {
        let board = DriftBoard::default();
        let _guard = board.raise(drift.clone());
        let bytes = wire(&board, &body);
        prop_assert_ne!(&bytes, &body.to_string().into_bytes());
        let is_json = serde_json::from_slice::<Value>(&bytes).is_ok();
        prop_assert_eq!(is_json, drift.change != EmptyBody.into(), "{}", drift.explain());
    }

    #[test]
    fn a_hostile_drift_changes_the_bytes((body, drift) in body_with(DriftClass::Hostile)) {
        let board = DriftBoard::default();
        let _guard = board.raise(drift.clone());
        prop_assert_ne!(wire(&board, &body), body.to_string().into_bytes());
    }

    #[test]
    fn several_drifts_do_what_each_does_in_turn((body, some) in body_with_some()) {
        let board = DriftBoard::default();
        let guards: Vec<DriftGuard> = some.iter().map(|drift| board.raise(drift.clone())).collect();
        let mut at_once = body.clone();
        let fitted = board.apply(&mut at_once);
        let mut in_turn = body.clone();
        let each = some.iter().filter(|drift| drift.apply(&mut in_turn).is_ok());
        let names: Vec<String> = each.map(|drift| drift.name.clone()).collect();
        prop_assert_eq!(fitted, names);
        prop_assert_eq!(at_once.to_string(), in_turn.to_string());
        let spells = some.iter().any(|drift| drift.spell(&at_once).is_ok());
        prop_assert_eq!(board.spell(&at_once).is_some(), spells);
        let forms = some.iter().filter_map(Drift::form);
        prop_assert_eq!(board.form(), forms.fold(FormChange::default(), FormChange::and));
        drop(guards);
        prop_assert_eq!(wire(&board, &body), body.to_string().into_bytes());
    }
}

#[test]
fn every_kind_is_generated_for_a_body_that_has_something_of_everything() {
    let mut runner = TestRunner::deterministic();
    let strategy = drifts(&examples::body());
    let mut names: BTreeSet<String> = Change::names().into_iter().collect();
    let mut reached = BTreeSet::new();
    for _ in 0..5000 {
        let drift = strategy.new_tree(&mut runner).unwrap().current();
        names.remove(&drift.change.name());
        reached.insert(drift.pointer);
    }
    assert_eq!(names, BTreeSet::new(), "never generated");
    let all: BTreeSet<String> = places(&examples::body()).into_iter().collect();
    assert_eq!(reached, all);
}

#[test]
fn a_body_that_is_one_value_has_drifts_of_every_class() {
    let mut runner = TestRunner::deterministic();
    for body in [
        Value::Null,
        Value::from(true),
        Value::from(""),
        Value::from(0),
    ] {
        for class in [
            DriftClass::Compatible,
            DriftClass::Breaking,
            DriftClass::Hostile,
        ] {
            let drift = drifts_of(&body, class).new_tree(&mut runner).unwrap();
            assert_eq!(drift.current().class, class);
        }
    }
}

#[test]
fn the_bodies_are_of_every_dialect_with_json() {
    for name in ["flat ", "nested ", "plain ", "senml "] {
        let count = BODIES
            .iter()
            .filter(|(what, _)| what.starts_with(name))
            .count();
        assert!(count > 5, "{name}: {count}");
    }
}
