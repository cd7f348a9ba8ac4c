//! Changes of the shape.

use proptest::prelude::*;
use proptest::sample::select;
use serde_json::Value;

use super::place::Places;
use super::{Row, names, one_of, only, row, values};
use crate::drift::DriftClass::{Breaking, Compatible, Hostile};
use crate::drift::{
    AddMember, AppendElement, Change, DeepenUnknown, Drift, MoveMember, NumberAsText,
    ObjectAsArray, Pad, PrependElement, RemoveMember, RenameMember, ReplaceByNull, ReplaceValue,
    ReverseMembers, Scale, SortMembers, TextAsNumber, ValueAsObject,
};
use crate::pointer;

pub(super) fn rows(places: &Places) -> Vec<Row> {
    let mut rows = compatible(places);
    rows.extend(breaking(places));
    rows.extend(moves(places));
    let large = pads(select(vec![65_537, 1_000_000]));
    rows.extend(row(Hostile, &places.objects, large));
    rows
}

fn compatible(places: &Places) -> Vec<Row> {
    let add = (names(), values()).prop_map(|(member, value)| AddMember { member, value }.into());
    let deepen =
        (names(), 0..=64_u32).prop_map(|(member, levels)| DeepenUnknown { member, levels }.into());
    let append = values().prop_map(|value| AppendElement { value }.into());
    [
        row(Compatible, &places.objects, add),
        row(Compatible, &places.objects, only(ReverseMembers)),
        row(Compatible, &places.objects, only(SortMembers)),
        row(Compatible, &places.objects, deepen),
        row(Compatible, &places.objects, pads(0..=65_536_u32)),
        row(Compatible, &places.arrays, append),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn breaking(places: &Places) -> Vec<Row> {
    let rename = names().prop_map(|to| RenameMember { to }.into());
    let prepend = values().prop_map(|value| PrependElement { value }.into());
    let replace = values().prop_map(|value| ReplaceValue { value }.into());
    let around = names().prop_map(|member| ValueAsObject { member }.into());
    [
        row(Breaking, &places.all, only(ReplaceByNull)),
        row(Breaking, &places.members, only(RemoveMember)),
        row(Breaking, &places.members, rename),
        row(Breaking, &places.numbers, only(NumberAsText)),
        row(Breaking, &places.numbers, scales()),
        row(Breaking, &places.numeric_texts, only(TextAsNumber)),
        row(Breaking, &places.objects, only(ObjectAsArray)),
        row(Breaking, &places.arrays, prepend),
        row(Breaking, &places.texts, words()),
        row(Breaking, &places.all, replace),
        row(Breaking, &places.all, around),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn pads(bytes: impl Strategy<Value = u32>) -> impl Strategy<Value = Change> {
    (names(), bytes).prop_map(|(member, bytes)| Pad { member, bytes }.into())
}

/// Gives the changes of unit that hosts are seen to make: fraction, per mille, milliseconds, minutes,
/// Fahrenheit, kelvin.
fn scales() -> impl Strategy<Value = Change> {
    select(vec![
        (0.01, 0.0),
        (10.0, 0.0),
        (1000.0, 0.0),
        (1.0 / 60.0, 0.0),
        (1.8, 32.0),
        (1.0, 273.15),
        (-1.0, 100.0),
    ])
    .prop_map(|(factor, offset)| Scale { factor, offset }.into())
}

/// Gives state words that no client was told of.
fn words() -> impl Strategy<Value = Change> {
    let word = |text: String| {
        let value = Value::from(text);
        ReplaceValue { value }.into()
    };
    one_of(&["resting", "UNKNOWN", "state-7", "calibrating", ""], word)
}

fn moves(places: &Places) -> Option<Row> {
    if places.members.is_empty() {
        return None;
    }
    let from = select(places.members.clone());
    let target = (select(places.objects.clone()), names());
    let strategy = (from, target)
        .prop_map(|(from, (object, name))| {
            let to = pointer::join(&object, &name);
            Drift::of(from, MoveMember { to })
        })
        .boxed();
    Some(Row {
        class: Breaking,
        strategy,
    })
}
