//! What every route of a dialect answers, and the truths of every scenario.

use std::sync::{Arc, LazyLock};

use http::header::CONTENT_TYPE;
use serde_json::Value;

use crate::dialect::route::{Matched, Params, RouteId, RouteKind};
use crate::dialect::{Answer, Dialect, DialectFile, Problem};
use crate::scenario::{BUILTIN, Scenario};
use crate::sim::{Simulation, Truth, VirtualTime};

/// Lists every version of every built-in dialect.
pub(super) static DIALECTS: LazyLock<Vec<Arc<Dialect>>> = LazyLock::new(|| {
    DialectFile::builtin_names()
        .flat_map(|name| DialectFile::builtin(name).unwrap().versions().to_vec())
        .collect()
});

pub(super) static SCENARIOS: LazyLock<Vec<Arc<Scenario>>> = LazyLock::new(|| {
    BUILTIN
        .iter()
        .map(|(name, text)| Arc::new(Scenario::parse(name, text).unwrap()))
        .collect()
});

/// Are truths from all over every built-in scenario, with the scenario's name: some sixty moments of
/// each, at distances that fit no period of anything in them.
pub(super) static TRUTHS: LazyLock<Vec<(&'static str, Truth)>> = LazyLock::new(|| {
    let mut truths = Vec::new();
    for ((name, _), scenario) in BUILTIN.iter().zip(SCENARIOS.iter()) {
        let mut simulation = Simulation::new(Arc::clone(scenario), 7);
        let length_s = scenario.length.start().as_seconds();
        for step in 0..=60_u32 {
            let at_s = length_s * f64::from(step) / 60.0;
            truths.push((*name, simulation.truth_at(moment(at_s))));
        }
    }
    truths
});

pub(super) fn moment(at_s: f64) -> VirtualTime {
    VirtualTime::new(std::time::Duration::from_secs_f64(at_s))
}

/// Is what a route answers to one request, with the request as `GET /heaters/extruder`.
pub(super) struct Said {
    pub(super) request: String,
    pub(super) missing_status: u16,
    pub(super) answer: Answer,
}

/// Gives what every route answers, the parameters of its path filled with each of the values.
pub(super) fn everything(dialect: &Dialect, truth: &Truth, values: &[&str]) -> Vec<Said> {
    let mut said = Vec::new();
    for index in 0..dialect.routes.len() {
        let route = dialect.of(RouteId(index));
        let names: Vec<&str> = route
            .path
            .split(['{', '}'])
            .skip(1)
            .step_by(2)
            .map(|name| name.trim_start_matches('*'))
            .collect();
        let values = if names.is_empty() { &[""] } else { values };
        for value in values {
            let fill = |name: &&str| ((*name).to_owned(), Some((*value).to_owned()));
            let query = route.query.iter();
            let matched = Matched {
                version: dialect.place(),
                route: RouteId(index),
                path: Params(names.iter().map(fill).collect()),
                query: Params(
                    query
                        .map(|known| (known.name.clone(), known.default.clone()))
                        .collect(),
                ),
                body: None,
            };
            let mut request = format!("{} {}", route.method, route.path);
            for name in &names {
                request = request.replace(&format!("{{{name}}}"), value);
                request = request.replace(&format!("{{*{name}}}"), value);
            }
            for (name, value) in &route.condition.query {
                request.push_str(&format!(" ?{name}={value}"));
            }
            said.push(Said {
                request,
                missing_status: route.missing_status.as_u16(),
                answer: answer(dialect, &matched, truth),
            });
        }
    }
    said
}

fn answer(dialect: &Dialect, matched: &Matched, truth: &Truth) -> Answer {
    let log_in = matches!(dialect.of(matched.route).kind, RouteKind::LogIn(_));
    if !log_in {
        return dialect.render_answer(matched, truth);
    }
    dialect
        .render_log_in(matched, truth, "token")
        .and_then(|rendered| dialect.finish(matched, truth, rendered))
        .unwrap_or_else(|error| dialect.problem(&Problem::fault_of_dialect(&error)))
}

/// Tells what is wrong with an answer: a status that is neither a success nor that of a missing
/// thing, or a body that is not what it says it is.
pub(super) fn fault(said: &Said) -> Option<String> {
    let Said {
        request, answer, ..
    } = said;
    let body = String::from_utf8_lossy(&answer.body);
    let status = answer.status.as_u16();
    if !(200..300).contains(&status) && status != said.missing_status {
        return Some(format!("{request}: {status} {body}"));
    }
    let content_type = answer.headers.get(CONTENT_TYPE);
    let is_json = content_type.is_some_and(|value| {
        let value = value.to_str().unwrap();
        value.contains("json") || value == "text/event-stream"
    });
    let valid = if is_json {
        serde_json::from_slice::<Value>(&answer.body).is_ok()
    } else {
        std::str::from_utf8(&answer.body).is_ok()
    };
    (!valid).then(|| format!("{request}: {body}"))
}
