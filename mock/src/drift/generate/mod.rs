//! Strategies that generate drifts for a body: any kind, at any place that it fits.
//!
//! Owns: which kinds fit which values, and which parameters are worth trying.
//! Does not own: what a client owes under a drift, and running anything.
//!
//! Only with the feature `generate`. What is generated shrinks to the first place, the first kind of its
//! class and the simplest parameters.

mod place;
mod shape;
mod spelling;

use proptest::prelude::*;
use proptest::sample::select;
use proptest::strategy::Union;
use serde_json::Value;

use super::{Change, Chunked, Drift, DriftClass, FieldCase, FieldNames, Gzip};
use place::Places;

pub use place::places;

/// Is a strategy for one kind of change, or one class of it.
struct Row {
    class: DriftClass,
    strategy: BoxedStrategy<Drift>,
}

/// Gives drifts of every class that fit a body; `places` gives the pointers they are at.
///
/// A body always has some: every answer can be carried in another way.
pub fn drifts(body: &Value) -> BoxedStrategy<Drift> {
    let classes = [
        DriftClass::Compatible,
        DriftClass::Breaking,
        DriftClass::Hostile,
    ];
    Union::new(classes.map(|class| drifts_of(body, class))).boxed()
}

/// Gives drifts of one class that fit a body.
pub fn drifts_of(body: &Value, class: DriftClass) -> BoxedStrategy<Drift> {
    let places = Places::of(body);
    let mut rows = shape::rows(&places);
    rows.extend(spelling::rows(&places));
    rows.extend(forms());
    let rows = rows.into_iter().filter(|row| row.class == class);
    let body = body.clone();
    // A name may be taken; null may be null already, and a fifth of nothing is nothing.
    Union::new(rows.map(|row| row.strategy))
        .prop_filter("nothing happens to the body", move |drift| {
            let effect = drift.effect(&body);
            effect.is_ok_and(|effect| {
                effect.before != effect.after || class == DriftClass::Compatible
            })
        })
        .boxed()
}

/// Makes a row of a change at any of the places; none if there are no places.
fn row(
    class: DriftClass,
    places: &[String],
    change: impl Strategy<Value = Change> + 'static,
) -> Option<Row> {
    if places.is_empty() {
        return None;
    }
    let strategy = (select(places.to_vec()), change)
        .prop_map(|(pointer, change)| Drift::of(pointer, change))
        .boxed();
    Some(Row { class, strategy })
}

/// Gives one change only.
fn only(change: impl Into<Change>) -> Just<Change> {
    Just(change.into())
}

/// Gives one of some texts, made a change.
fn one_of(
    texts: &'static [&'static str],
    make: fn(String) -> Change,
) -> impl Strategy<Value = Change> {
    select(texts).prop_map(move |text| make(text.to_owned()))
}

fn forms() -> Vec<Row> {
    let whole = [String::new()];
    let cases = select(vec![FieldCase::Lower, FieldCase::Title, FieldCase::Upper]);
    let names = cases.prop_map(|case| FieldNames { case }.into());
    let class = DriftClass::Compatible;
    [
        row(class, &whole, only(Chunked)),
        row(class, &whole, only(Gzip)),
        row(class, &whole, names),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Gives names for a member that a body has not got.
fn names() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => select(vec!["extra", "note", "a/b", "m~n", "Düse", "0", ""]).prop_map(str::to_owned),
        1 => "[a-z][a-z-]{0,11}",
    ]
}

/// Gives values that a host may well send.
fn values() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        (-500_i32..100_000).prop_map(Value::from),
        (-5000_i32..1_000_000).prop_map(|tenths| Value::from(f64::from(tenths) / 10.0)),
        "[A-Za-z °é水]{0,12}".prop_map(Value::from),
    ];
    leaf.prop_recursive(2, 6, 3, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..3).prop_map(Value::from),
            prop::collection::vec((names(), inner), 0..3)
                .prop_map(|members| Value::Object(members.into_iter().collect())),
        ]
    })
}
