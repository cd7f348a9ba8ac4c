//! What a route answers, summed up over a session.

use std::collections::{BTreeMap, BTreeSet};

use indexmap::IndexMap;
use serde_json::Value;

use crate::format::Body;
use crate::model::{Content, Session};

/// More different words are no words of a state (own choice).
const MOST_WORDS: usize = 12;

/// Fields that are another in each answer, or say only how it is carried.
const VOLATILE: [&str; 8] = [
    "date",
    "content-length",
    "etag",
    "last-modified",
    "age",
    "expires",
    "set-cookie",
    "retry-after",
];

/// Is what one route answers.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Route {
    pub(super) statuses: BTreeSet<u16>,
    pub(super) answers: usize,
    /// By name in lower case: how many answers have it, and its value where that is always the same.
    pub(super) fields: BTreeMap<String, (usize, Option<String>)>,
    pub(super) bodies: usize,
    /// By JSON Pointer; `*` stands for any item of a list whose length varies.
    pub(super) leaves: IndexMap<String, Leaf>,
}

/// Is what stands at one place.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Leaf {
    /// In how many bodies it is there.
    pub(super) bodies: usize,
    pub(super) kinds: BTreeSet<&'static str>,
    pub(super) least: Option<f64>,
    pub(super) most: Option<f64>,
    pub(super) decimals: usize,
    /// `None` once there are too many.
    pub(super) words: Option<BTreeSet<String>>,
}

/// Sums a session up by route: method and path, without the query.
pub(super) fn of_session(session: &Session) -> IndexMap<String, Route> {
    let mut bodies: IndexMap<String, Vec<Value>> = IndexMap::new();
    let mut routes: IndexMap<String, Route> = IndexMap::new();
    for exchange in &session.exchanges {
        let name = format!("{} {}", exchange.request.method, exchange.request.path());
        let route = routes.entry(name.clone()).or_default();
        let Some(answer) = exchange.answer() else {
            continue;
        };
        route.answers += 1;
        route.statuses.insert(answer.status);
        for (field, value) in &answer.fields {
            route.add_field(&field.to_ascii_lowercase(), value);
        }
        if let Content::Whole {
            body: Body::Text(text),
            ..
        } = &answer.content
            && let Ok(body) = serde_json::from_str::<Value>(text)
            && answer.status < 300
        {
            bodies.entry(name).or_default().push(body);
        }
    }
    for (name, bodies) in bodies {
        let lengths = lengths(&bodies);
        if let Some(route) = routes.get_mut(&name) {
            route.bodies = bodies.len();
            for body in &bodies {
                let mut seen = BTreeSet::new();
                route.add_leaves(body, String::new(), &lengths, &mut seen);
            }
        }
    }
    routes
}

/// Gives the lists that have several lengths, by pointer with `*` for items of such lists above them.
fn lengths(bodies: &[Value]) -> BTreeSet<String> {
    let mut all: BTreeMap<String, BTreeSet<usize>> = BTreeMap::new();
    fn add(value: &Value, pointer: &str, all: &mut BTreeMap<String, BTreeSet<usize>>) {
        match value {
            Value::Object(members) => {
                for (name, value) in members {
                    add(value, &below(pointer, name), all);
                }
            }
            Value::Array(items) => {
                all.entry(pointer.to_owned())
                    .or_default()
                    .insert(items.len());
                for item in items {
                    add(item, &format!("{pointer}/*"), all);
                }
            }
            _ => {}
        }
    }
    for body in bodies {
        add(body, "", &mut all);
    }
    all.into_iter()
        .filter(|(_, lengths)| lengths.len() > 1)
        .map(|(pointer, _)| pointer)
        .collect()
}

fn below(pointer: &str, name: &str) -> String {
    format!("{pointer}/{}", name.replace('~', "~0").replace('/', "~1"))
}

/// Gives a pointer with `*` for every index, as [`lengths`] has it.
fn starred(pointer: &str) -> String {
    let parts = pointer.split('/').map(|part| match part.parse::<usize>() {
        Ok(_) => "*",
        Err(_) => part,
    });
    parts.collect::<Vec<_>>().join("/")
}

impl Route {
    fn add_field(&mut self, name: &str, value: &str) {
        if VOLATILE.contains(&name) {
            return;
        }
        match self.fields.get_mut(name) {
            Some((count, known)) => {
                *count += 1;
                if known.as_deref() != Some(value) {
                    *known = None;
                }
            }
            None => {
                self.fields
                    .insert(name.to_owned(), (1, Some(value.to_owned())));
            }
        }
    }

    fn add_leaves(
        &mut self,
        value: &Value,
        pointer: String,
        varying: &BTreeSet<String>,
        seen: &mut BTreeSet<String>,
    ) {
        match value {
            Value::Object(members) if !members.is_empty() => {
                for (name, value) in members {
                    self.add_leaves(value, below(&pointer, name), varying, seen);
                }
            }
            Value::Array(items) if !items.is_empty() => {
                let is_varying = varying.contains(&starred(&pointer));
                for (index, value) in items.iter().enumerate() {
                    let pointer = match is_varying {
                        true => format!("{pointer}/*"),
                        false => format!("{pointer}/{index}"),
                    };
                    self.add_leaves(value, pointer, varying, seen);
                }
            }
            leaf => {
                let is_new = seen.insert(pointer.clone());
                let entry = self.leaves.entry(pointer).or_insert_with(|| Leaf {
                    words: Some(BTreeSet::new()),
                    ..Leaf::default()
                });
                entry.bodies += usize::from(is_new);
                entry.add(leaf);
            }
        }
    }
}

impl Leaf {
    fn add(&mut self, value: &Value) {
        self.kinds.insert(match value {
            Value::Null => "null",
            Value::Bool(_) => "boolean",
            Value::Number(_) => "number",
            Value::String(_) => "text",
            Value::Array(_) => "empty list",
            Value::Object(_) => "empty object",
        });
        match value {
            Value::Number(number) => {
                let text = number.to_string();
                let decimals = text
                    .split_once('.')
                    .map_or(0, |(_, decimals)| decimals.len());
                // `21.0` is how some write a whole number.
                let is_whole = number
                    .as_f64()
                    .is_some_and(|value| value.fract().abs() < f64::EPSILON);
                self.decimals = self.decimals.max(if is_whole { 0 } else { decimals });
                if let Some(value) = number.as_f64() {
                    self.least = Some(self.least.map_or(value, |least| least.min(value)));
                    self.most = Some(self.most.map_or(value, |most| most.max(value)));
                }
            }
            Value::String(text) => {
                if let Some(words) = &mut self.words {
                    words.insert(text.clone());
                    if words.len() > MOST_WORDS {
                        self.words = None;
                    }
                }
            }
            _ => {}
        }
    }
}
