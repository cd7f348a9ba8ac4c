//! What differs between two sums.

use serde::Serialize;

use super::profile::{Leaf, Route, of_session};
use crate::model::Session;

/// Is one difference.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Difference {
    /// The method and the path.
    pub route: String,
    /// The JSON Pointer (RFC 6901), with `*` for items of lists whose length varies; the name of a field;
    /// empty for the route itself.
    pub place: String,
    /// What differs there.
    pub what: What,
    /// What there is in the first session; `None` if nothing.
    pub first: Option<String>,
    /// What there is in the second.
    pub second: Option<String>,
}

/// Says what differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// The route was asked for in one session only.
    Route,
    /// Other statuses.
    Statuses,
    /// A field is in all answers of one session and in none of the other.
    Field,
    /// A field has one value in each session, and not the same.
    FieldValue,
    /// A member is in one session only.
    Member,
    /// A member is always there in one session and now and then in the other.
    Presence,
    /// Other types: number, text, boolean, null.
    Types,
    /// Whole numbers in one session, and others in the other.
    Decimals,
    /// A share of 1 in one session and more in the other, or numbers that are 20 times as large at least.
    Range,
    /// Words of a state that are in one session only. Both sessions have few different ones.
    Words,
}

impl What {
    /// Gives the words for a person.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Route => "route",
            Self::Statuses => "statuses",
            Self::Field => "field",
            Self::FieldValue => "value of the field",
            Self::Member => "member",
            Self::Presence => "always there",
            Self::Types => "types",
            Self::Decimals => "decimals",
            Self::Range => "range",
            Self::Words => "words",
        }
    }
}

/// Gives what changed from the first session to the second, by route, then as the bodies have it.
pub fn diff(first: &Session, second: &Session) -> Vec<Difference> {
    let (first, second) = (of_session(first), of_session(second));
    let mut names: Vec<&String> = first.keys().chain(second.keys()).collect();
    names.sort_unstable();
    names.dedup();
    let mut all = Vec::new();
    for name in names {
        match (first.get(name), second.get(name)) {
            (Some(one), Some(other)) => of_route(name, one, other, &mut all),
            (one, other) => all.push(Difference {
                route: name.clone(),
                place: String::new(),
                what: What::Route,
                first: one.map(asked),
                second: other.map(asked),
            }),
        }
    }
    all
}

fn asked(route: &Route) -> String {
    format!("{} answers", route.answers)
}

fn of_route(name: &str, one: &Route, other: &Route, all: &mut Vec<Difference>) {
    let mut add = |place: &str, what, first: Option<String>, second: Option<String>| {
        all.push(Difference {
            route: name.to_owned(),
            place: place.to_owned(),
            what,
            first,
            second,
        });
    };
    if one.statuses != other.statuses {
        let list = |route: &Route| {
            let words: Vec<String> = route.statuses.iter().map(u16::to_string).collect();
            words.join(", ")
        };
        add("", What::Statuses, Some(list(one)), Some(list(other)));
    }
    let mut fields: Vec<&String> = one.fields.keys().chain(other.fields.keys()).collect();
    fields.sort_unstable();
    fields.dedup();
    for field in fields {
        let value = |route: &Route| {
            let (count, value) = route.fields.get(field)?;
            let always = *count >= route.answers;
            always.then(|| value.clone().unwrap_or_else(|| "(several)".to_owned()))
        };
        let is_none = |route: &Route| !route.fields.contains_key(field);
        match (value(one), value(other)) {
            (Some(first), Some(second)) if first != second => {
                add(field, What::FieldValue, Some(first), Some(second));
            }
            (Some(first), None) if is_none(other) => add(field, What::Field, Some(first), None),
            (None, Some(second)) if is_none(one) => add(field, What::Field, None, Some(second)),
            _ => {}
        }
    }
    if one.bodies == 0 || other.bodies == 0 {
        return;
    }
    let mut places: Vec<&String> = one.leaves.keys().collect();
    places.extend(
        other
            .leaves
            .keys()
            .filter(|place| !one.leaves.contains_key(*place)),
    );
    places.sort_unstable();
    for place in places {
        match (one.leaves.get(place), other.leaves.get(place)) {
            (Some(first), Some(second)) => {
                let counts = (one.bodies, other.bodies);
                of_leaf(first, second, counts, &mut |what, first, second| {
                    add(place, what, Some(first), Some(second));
                });
            }
            (first, second) => add(place, What::Member, first.map(kinds), second.map(kinds)),
        }
    }
}

fn kinds(leaf: &Leaf) -> String {
    leaf.kinds.iter().copied().collect::<Vec<_>>().join(" or ")
}

fn of_leaf(
    one: &Leaf,
    other: &Leaf,
    bodies: (usize, usize),
    add: &mut impl FnMut(What, String, String),
) {
    let often = |leaf: &Leaf, bodies: usize| format!("{} of {bodies}", leaf.bodies);
    if (one.bodies == bodies.0) != (other.bodies == bodies.1) {
        add(What::Presence, often(one, bodies.0), often(other, bodies.1));
    }
    if one.kinds != other.kinds {
        add(What::Types, kinds(one), kinds(other));
    }
    if let (Some(first), Some(second)) = (range(one), range(other)) {
        if (one.decimals == 0) != (other.decimals == 0) {
            let decimals = |leaf: &Leaf| leaf.decimals.to_string();
            add(What::Decimals, decimals(one), decimals(other));
        }
        if is_another_kind_of_range(first, second) {
            let shown = |(least, most): (f64, f64)| format!("{least} to {most}");
            add(What::Range, shown(first), shown(second));
        }
    }
    if let (Some(first), Some(second)) = (&one.words, &other.words) {
        let only = |of: &std::collections::BTreeSet<String>,
                    without: &std::collections::BTreeSet<String>| {
            let words: Vec<&str> = of.difference(without).map(String::as_str).collect();
            words.join(", ")
        };
        if first != second && !first.is_empty() && !second.is_empty() {
            add(What::Words, only(first, second), only(second, first));
        }
    }
}

fn range(leaf: &Leaf) -> Option<(f64, f64)> {
    leaf.least.zip(leaf.most)
}

fn is_another_kind_of_range(one: (f64, f64), other: (f64, f64)) -> bool {
    let is_share = |(least, most): (f64, f64)| least >= 0.0 && most <= 1.0 && most > least;
    let is_more = |(least, most): (f64, f64)| least >= 0.0 && most > 1.5;
    let is_far = |small: (f64, f64), large: (f64, f64)| small.1 > 0.0 && large.0 > 20.0 * small.1;
    (is_share(one) && is_more(other))
        || (is_share(other) && is_more(one))
        || is_far(one, other)
        || is_far(other, one)
}
