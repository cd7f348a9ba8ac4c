//! The answers of one route, and their leaves over time.

use coldbed_session::{Body, Content, End, Session};
use indexmap::IndexMap;
use serde_json::Value;

/// Is what one route answered with 200 and JSON.
#[derive(Debug, Clone)]
pub(crate) struct Samples {
    pub(crate) path: String,
    pub(crate) content_type: Option<String>,
    /// When each was asked for, s since the session began.
    pub(crate) at_s: Vec<f64>,
    pub(crate) bodies: Vec<Value>,
    /// How many answers were 404.
    pub(crate) not_found: usize,
}

/// Gives what each `GET` route answered, in the order in which they were first asked for.
pub(crate) fn of_session(session: &Session) -> Vec<Samples> {
    let mut routes: IndexMap<String, Samples> = IndexMap::new();
    for exchange in &session.exchanges {
        let Some(answer) = exchange.answer() else {
            continue;
        };
        let is_whole = matches!(answer.ended, Some((_, End::Complete)));
        let Content::Whole {
            body: Body::Text(text),
            ..
        } = &answer.content
        else {
            continue;
        };
        if exchange.request.method != "GET" || answer.status != 200 || !is_whole {
            continue;
        }
        let Ok(body) = serde_json::from_str::<Value>(text) else {
            continue;
        };
        let path = exchange.request.path().to_owned();
        let samples = routes.entry(path.clone()).or_insert_with(|| Samples {
            path,
            content_type: answer.field("content-type").map(str::to_owned),
            at_s: Vec::new(),
            bodies: Vec::new(),
            not_found: 0,
        });
        samples.at_s.push(exchange.request.at.as_secs_f64());
        samples.bodies.push(body);
    }
    for exchange in &session.exchanges {
        let is_missing = exchange.answer().is_some_and(|answer| answer.status == 404);
        if let (true, Some(route)) = (is_missing, routes.get_mut(exchange.request.path())) {
            route.not_found += 1;
        }
    }
    routes.into_values().collect()
}

impl Samples {
    /// Gives every leaf by its JSON Pointer (RFC 6901), with what stood there in each answer.
    pub(crate) fn leaves(&self) -> IndexMap<String, Vec<Option<Value>>> {
        let mut all: IndexMap<String, Vec<Option<Value>>> = IndexMap::new();
        for (index, body) in self.bodies.iter().enumerate() {
            leaves(body, String::new(), &mut |pointer, value| {
                let values = all.entry(pointer).or_default();
                values.resize(index, None);
                values.push(Some(value.clone()));
            });
        }
        for values in all.values_mut() {
            values.resize(self.bodies.len(), None);
        }
        all
    }
}

/// Calls for each leaf. Empty objects and lists are leaves, too.
pub(crate) fn leaves(value: &Value, pointer: String, each: &mut impl FnMut(String, &Value)) {
    match value {
        Value::Object(members) if !members.is_empty() => {
            for (name, value) in members {
                leaves(value, format!("{pointer}/{}", escaped(name)), each);
            }
        }
        Value::Array(items) if !items.is_empty() => {
            for (index, value) in items.iter().enumerate() {
                leaves(value, format!("{pointer}/{index}"), each);
            }
        }
        leaf => each(pointer, leaf),
    }
}

/// Gives a name as a pointer has it (RFC 6901 section 3).
pub(crate) fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}
