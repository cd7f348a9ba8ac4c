//! The proposal as text: a dialect file whose comments are the evidence, and its questions.

use coldbed_session::Session;
use indexmap::IndexMap;
use serde_json::Value;

use super::access::auth;
use super::template::body;
use crate::host::{Leaf, Meaning, RouteGuess, SURE, Unit, Words, guess_routes};

/// Is a proposed dialect.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The dialect, as a TOML file.
    pub dialect: String,
    /// What it rests on.
    pub routes: Vec<RouteGuess>,
    /// How many questions the file has.
    pub questions: usize,
}

/// The phases in the order of the table of words.
const PHASES: [&str; 7] = [
    "idle",
    "heating",
    "printing",
    "paused",
    "error",
    "finished",
    "cancelled",
];

/// Proposes a dialect for the host of a session.
pub fn propose(session: &Session) -> Proposal {
    let routes = guess_routes(session);
    let mut text = String::from(
        "# Proposed by `coldbed learn` from a recorded session. Lines that begin with `# ?` are questions: look at\n\
         # them, change what is wrong, and take the mark away. Nothing is guessed there; what stood in the session\n\
         # last is put in its place.\ntitle = \"A host that was recorded\"\n\n",
    );
    text.push_str(&auth(session));
    text.push_str(&caching(session));
    text.push_str(&problem(session));
    let mut tables = Tables::default();
    let named: Vec<IndexMap<&str, String>> = routes
        .iter()
        .map(|route| tables.of_route(route, &mut text))
        .collect();
    for (route, names) in routes.iter().zip(&named) {
        text.push_str(&route_text(route, names));
    }
    let questions = text
        .lines()
        .filter(|line| line.trim_start().starts_with("# ?") || line.contains("  # ? "))
        .count();
    Proposal {
        dialect: text,
        routes,
        questions,
    }
}

/// A field of answers that says how long they may be kept is part of what a watcher has to live with.
fn caching(session: &Session) -> String {
    let mut values = session.exchanges.iter().filter_map(|exchange| {
        let answer = exchange.answer().filter(|answer| answer.status == 200)?;
        Some(answer.field("cache-control").map(str::to_owned))
    });
    let first = values.next().flatten();
    match first {
        Some(value) if values.all(|other| other.as_ref() == Some(&value)) => {
            format!("\n[headers]\nCache-Control = {}\n", toml_text(&value))
        }
        _ => String::new(),
    }
}

/// Is the tables of words that are written so far, so that routes that say the same share one.
#[derive(Default)]
struct Tables {
    written: Vec<(String, String, Words)>,
}

impl Tables {
    /// Writes the tables of a route that are new, and gives the name of each leaf's.
    fn of_route<'r>(
        &mut self,
        route: &'r RouteGuess,
        text: &mut String,
    ) -> IndexMap<&'r str, String> {
        let mut names = IndexMap::new();
        for leaf in route.leaves.iter().filter(|leaf| leaf.is_sure()) {
            let Some(words) = route.words.get(&leaf.pointer) else {
                continue;
            };
            let lines = lines(words, leaf);
            // One that says the same and more is taken: a route of the job alone sees fewer phases.
            let is_within = |more: &Words| {
                let mut each = words.by_phase.iter();
                each.all(|(phase, (word, ..))| {
                    more.by_phase
                        .get(phase)
                        .is_some_and(|(other, ..)| other == word)
                })
            };
            let known = (self.written.iter())
                .find(|(_, written, more)| *written == lines || is_within(more));
            let name = match known {
                Some((name, ..)) => name.clone(),
                None => {
                    let name = format!("phase{}", self.written.len() + 1);
                    text.push_str(&format!(
                        "\n# The words of {} at {}.\n[words.{name}]\n{lines}",
                        route.path, leaf.pointer
                    ));
                    self.written.push((name.clone(), lines, words.clone()));
                    name
                }
            };
            names.insert(leaf.pointer.as_str(), name);
        }
        names
    }
}

fn lines(words: &Words, leaf: &Leaf) -> String {
    let line = |phase: &str| match words.by_phase.get(phase) {
        Some((word, confidence, evidence)) => {
            let mark = if *confidence < SURE { "? " } else { "" };
            format!(
                "{phase} = {}  # {mark}{confidence:.2}: {evidence}\n",
                toml_text(word)
            )
        }
        None if phase == "idle" && leaf.is_of_job => {
            "idle = \"idle\"  # not shown: it is there only with a job\n".to_owned()
        }
        None => {
            format!(
                "{phase} = \"{phase}\"  # ? not in this session: put the host's own word here\n"
            )
        }
    };
    PHASES.iter().map(|phase| line(phase)).collect()
}

/// Gives what errors look like: as one that was seen, or as RFC 9457 has them.
fn problem(session: &Session) -> String {
    let seen = session.exchanges.iter().find_map(|exchange| {
        let answer = exchange.answer().filter(|answer| answer.status >= 400)?;
        let body: Value = serde_json::from_str(answer.body()?.text()?).ok()?;
        let is_object = body.as_object().is_some_and(|members| !members.is_empty());
        is_object.then(|| {
            (
                answer.status,
                answer.field("content-type").map(str::to_owned),
                body,
            )
        })
    });
    let (evidence, content_type, body) = match seen {
        Some((status, content_type, mut body)) => {
            for value in body
                .as_object_mut()
                .into_iter()
                .flat_map(|members| members.values_mut())
            {
                if value.as_u64() == Some(u64::from(status)) {
                    *value = Value::from("{{ status }}");
                }
            }
            let evidence = format!(
                "# ? As one answer of status {status} was; which of it varies is not known.\n"
            );
            (
                evidence,
                content_type.unwrap_or_else(|| "application/json".to_owned()),
                body,
            )
        }
        None => (
            "# ? No error with JSON was seen; this is the form of RFC 9457.\n".to_owned(),
            "application/problem+json".to_owned(),
            serde_json::json!({ "title": "{{ title }}", "status": "{{ status }}", "detail": "{{ detail }}" }),
        ),
    };
    let body = toml_text(&body.to_string());
    format!(
        "\n{evidence}[problem]\ncontent-type = {}\nbody = {body}\n",
        toml_text(&content_type)
    )
}

fn route_text(route: &RouteGuess, words: &IndexMap<&str, String>) -> String {
    let mut text = format!("\n# {} answers.\n", route.answers);
    for leaf in &route.leaves {
        text.push_str(&told(leaf, route));
    }
    text.push_str(&format!(
        "[[routes]]\nmethod = \"GET\"\npath = {}\n",
        toml_text(&route.path)
    ));
    if route.is_of_job {
        text.push_str(&match route.not_found {
            0 => "exists = \"job\"  # ? what it says without a job is not in this session\n"
                .to_owned(),
            count => format!("exists = \"job\"  # {count} more answers were 404\n"),
        });
    }
    if let Some(content_type) = &route.content_type
        && content_type != "application/json"
    {
        text.push_str(&format!("content-type = {}\n", toml_text(content_type)));
    }
    let body = body(route, words);
    // What a literal string cannot hold, a basic one can (TOML 1.0).
    let quoted = match body.contains("'''") {
        true => toml_text(&body),
        false => format!("'''\n{body}\n'''"),
    };
    text.push_str(&format!("body = {quoted}\n"));
    text
}

/// Says what was made of a leaf, or asks.
fn told(leaf: &Leaf, route: &RouteGuess) -> String {
    let pointer = &leaf.pointer;
    match &leaf.guess {
        Some(guess) => {
            let mark = if leaf.is_sure() { "" } else { "? " };
            let unit = unit(guess.unit);
            format!(
                "# {mark}{pointer}: {}{unit}, {:.2}: {}\n",
                meaning(&guess.meaning),
                guess.confidence,
                guess.evidence
            )
        }
        None if leaf.is_constant && leaf.without_job.is_none() => String::new(),
        None if leaf.is_constant => {
            format!(
                "# ? {pointer}: one value with a job and another without; nothing tells what it is\n"
            )
        }
        None if route.answers < 20 => {
            format!("# ? {pointer}: too few answers to tell what it is\n")
        }
        None => format!("# ? {pointer}: it changes, and nothing tells what it is\n"),
    }
}

fn meaning(meaning: &Meaning) -> String {
    match meaning {
        Meaning::Actual(name) => format!("actual temperature of {name}"),
        Meaning::Target(name) => format!("target of {name}"),
        Meaning::On(name) => format!("whether {name} is on"),
        Meaning::Progress => "progress".to_owned(),
        Meaning::Elapsed => "elapsed time".to_owned(),
        Meaning::Remaining => "remaining time".to_owned(),
        Meaning::UpTime => "up-time of the host".to_owned(),
        Meaning::Clock => "clock of the host".to_owned(),
        Meaning::Phase => "phase".to_owned(),
        Meaning::JobName => "name of the job".to_owned(),
    }
}

fn unit(unit: Unit) -> &'static str {
    match unit {
        Unit::Own => "",
        Unit::TenthsOfCelsius => " in tenths of a degree Celsius",
        Unit::Fahrenheit => " in degrees Fahrenheit",
        Unit::Kelvin => " in kelvin",
        Unit::Fraction => " as a share of 1",
        Unit::PerMille => " as a share of 1000",
        Unit::Minutes => " in minutes",
        Unit::Hours => " in hours",
        Unit::Milliseconds => " in milliseconds",
    }
}

/// Writes a basic string (TOML 1.0): JSON's escapes are its own, but for the slash, which JSON need not escape.
fn toml_text(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}
