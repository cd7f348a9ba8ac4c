use proptest::prelude::*;
use proptest::sample::{Index, select};
use serde_json::{Map, Number, Value};

use super::samples::{may_vary, no_json, same_json, shapes};
use super::*;
use crate::pointer;

fn name() -> impl Strategy<Value = String> {
    prop_oneof![
        3 => select(vec!["a", "b", "extra", "a/b", "m~n", "0", ""]).prop_map(str::to_owned),
        1 => any::<String>(),
    ]
}

fn number() -> impl Strategy<Value = Number> {
    let float = any::<f64>().prop_filter_map("not finite", Number::from_f64);
    prop_oneof![
        any::<i16>().prop_map(Number::from),
        any::<u64>().prop_map(Number::from),
        any::<i64>().prop_map(Number::from),
        float,
    ]
}

fn value() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        number().prop_map(Value::from),
        number().prop_map(|number| Value::from(number.to_string())),
        any::<String>().prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 32, 5, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
            prop::collection::vec((name(), inner), 0..5)
                .prop_map(|members| Value::from(members.into_iter().collect::<Map<_, _>>())),
        ]
    })
}

fn container() -> impl Strategy<Value = Value> {
    prop::collection::vec((name(), value()), 1..5)
        .prop_map(|members| Value::from(members.into_iter().collect::<Map<_, _>>()))
}

/// Gives the pointers to everything in a value, itself first.
fn places(value: &Value, pointer: &str, places: &mut Vec<String>) {
    places.push(pointer.to_owned());
    match value {
        Value::Array(elements) => {
            for (index, element) in elements.iter().enumerate() {
                self::places(element, &format!("{pointer}/{index}"), places);
            }
        }
        Value::Object(members) => {
            for (name, member) in members {
                self::places(member, &pointer::join(pointer, name), places);
            }
        }
        _ => {}
    }
}

fn place(body: &Value, index: Index) -> String {
    let mut all = Vec::new();
    places(body, "", &mut all);
    // A place that is not there is one of them.
    all.push("/none/there".to_owned());
    index.get(&all).clone()
}

fn shape() -> impl Strategy<Value = Change> {
    let changes = shapes().into_iter().map(|(change, _)| change);
    prop_oneof![
        4 => select(changes.collect::<Vec<_>>()),
        1 => name().prop_map(|to| RenameMember { to }.into()),
        1 => (name(), value()).prop_map(|(member, value)| AddMember { member, value }.into()),
        1 => value().prop_map(|value| ReplaceValue { value }.into()),
        1 => (any::<f64>(), any::<f64>())
            .prop_map(|(factor, offset)| Scale { factor, offset }.into()),
    ]
}

/// Tells whether two values are equal, with numbers as IEEE doubles within two units in the last
/// place: the parser used is fast, not exact.
fn same(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Number(one), Value::Number(other)) => {
            let (one, other) = (one.as_f64().unwrap(), other.as_f64().unwrap());
            (one - other).abs() <= 2.0 * f64::EPSILON * one.abs() + f64::MIN_POSITIVE
        }
        (Value::Array(one), Value::Array(other)) => {
            one.len() == other.len() && one.iter().zip(other).all(|(one, other)| same(one, other))
        }
        (Value::Object(one), Value::Object(other)) => {
            one.len() == other.len()
                && one
                    .iter()
                    .zip(other)
                    .all(|((name, one), (known, other))| name == known && same(one, other))
        }
        _ => one == other,
    }
}

fn check_shape(before: &Value, drift: &Drift) -> Result<(), TestCaseError> {
    let mut body = before.clone();
    let applied = drift.apply(&mut body);
    prop_assert!(drift.explain().ends_with('.'));
    if applied.is_err() {
        prop_assert_eq!(body.to_string(), before.to_string());
        prop_assert_eq!(drift.inverse(before), None);
        return Ok(());
    }
    let parsed: Value = serde_json::from_str(&body.to_string()).unwrap();
    prop_assert!(same(&parsed, &body), "{} {}", parsed, body);
    if let Some(undo) = drift.inverse(before) {
        prop_assert_eq!(undo.apply(&mut body), Ok(()), "{}", undo.explain());
        prop_assert_eq!(body.to_string(), before.to_string(), "{}", undo.explain());
    }
    Ok(())
}

fn changes(samples: Vec<(Change, DriftClass)>) -> impl Strategy<Value = Change> {
    select(samples).prop_map(|(change, _)| change)
}

proptest! {
    #[test]
    fn a_shape_drift_leaves_json_and_can_be_taken_back(
        body in value(), change in shape(), at in any::<Index>(),
    ) {
        check_shape(&body, &Drift::of(place(&body, at), change))?;
    }

    #[test]
    fn a_move_between_any_two_places_leaves_json_and_can_be_taken_back(
        body in container(), from in any::<Index>(), to in any::<Index>(), name in name(),
    ) {
        let to = pointer::join(&place(&body, to), &name);
        check_shape(&body, &Drift::of(place(&body, from), MoveMember { to }))?;
    }

    // Source: RFC 8259 sections 2, 6 and 7.
    #[test]
    fn a_compatible_spelling_says_the_same(
        body in value(), change in changes(same_json()), at in any::<Index>(),
    ) {
        let drift = Drift::of(place(&body, at), change);
        prop_assert_eq!(drift.class, DriftClass::Compatible);
        if let Ok(spelled) = drift.spell(&body) {
            let parsed: Value = serde_json::from_slice(&spelled).unwrap();
            prop_assert!(same(&parsed, &body), "{}", String::from_utf8_lossy(&spelled));
        }
    }

    #[test]
    fn a_body_without_marks_is_written_as_ever(body in value()) {
        prop_assert_eq!(Pen::new(&body).write(), body.to_string().into_bytes());
    }

    // Source: RFC 8259 section 9, a parser accepts all JSON; sections 2, 4, 5, 6 and 8.1 for what
    // is none.
    #[test]
    fn a_hostile_spelling_is_refused(
        body in container(), change in changes(no_json()), at in any::<Index>(),
    ) {
        let drift = Drift::of(place(&body, at), change);
        prop_assert_eq!(drift.class, DriftClass::Hostile);
        if let Ok(spelled) = drift.spell(&body) {
            let parsed = serde_json::from_slice::<Value>(&spelled);
            prop_assert!(parsed.is_err(), "{}", String::from_utf8_lossy(&spelled));
        }
    }

    // Source: RFC 8259 section 2: no beginning of an object is a JSON text.
    #[test]
    fn a_body_cut_anywhere_is_refused(body in container(), at in any::<Index>()) {
        let bytes = u32::try_from(at.index(body.to_string().len())).unwrap();
        let spelled = Drift::of("", Truncated { bytes }).spell(&body).unwrap();
        prop_assert_eq!(spelled.len(), bytes as usize);
        prop_assert!(serde_json::from_slice::<Value>(&spelled).is_err());
    }

    // What is made of these is the parser's own affair; it must be one or the other.
    #[test]
    fn a_spelling_that_may_be_taken_or_refused_differs_from_the_usual_one(
        body in container(), change in changes(may_vary()), at in any::<Index>(),
    ) {
        let drift = Drift::of(place(&body, at), change);
        if let Ok(spelled) = drift.spell(&body) {
            prop_assert_ne!(spelled, body.to_string().into_bytes());
        }
    }
}
