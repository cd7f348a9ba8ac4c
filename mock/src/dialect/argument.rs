//! Reads a command and its arguments out of a request.

use http::StatusCode;
use serde_json::Value;

use super::route::{Matched, PathParams, RouteKind};
use super::{Dialect, Problem};
use crate::sim::Command;

/// Is a command with the places of its arguments.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum CommandTemplate {
    /// As [`Command::PauseJob`].
    PauseJob,
    /// As [`Command::ResumeJob`].
    ResumeJob,
    /// As [`Command::CancelJob`].
    CancelJob,
    /// As [`Command::SetTarget`].
    SetTarget {
        /// Where the heater's name is.
        heater: Place,
        /// Where the target is.
        celsius: Place,
    },
}

/// Says where an argument is.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Place {
    /// In the path, under a parameter's name.
    Path(String),
    /// In the JSON body, at a JSON Pointer (RFC 6901).
    Body(String),
    /// In the dialect.
    Value(Value),
}

impl CommandTemplate {
    /// The commands' names in a file.
    pub(super) const NAMES: [&'static str; 4] =
        ["pause-job", "resume-job", "cancel-job", "set-target"];

    fn places(&self) -> Vec<&Place> {
        match self {
            Self::PauseJob | Self::ResumeJob | Self::CancelJob => Vec::new(),
            Self::SetTarget { heater, celsius } => vec![heater, celsius],
        }
    }
}

impl Dialect {
    /// Reads the command of a route out of a request.
    ///
    /// Whatever the request's `Content-Type`, the body is read as JSON: small clients often send
    /// none. Members nobody asked for are ignored (RFC 7493 section 4.2), and the body of a command
    /// without arguments is not looked at.
    ///
    /// # Errors
    /// 400 with a pointer to the argument (RFC 9110 section 15.5.1); 404 when the route is no
    /// command.
    pub fn command(&self, matched: &Matched, body: &[u8]) -> Result<Command, Problem> {
        let RouteKind::Command(template) = &self.of(matched.route).kind else {
            return Err(Problem::new(StatusCode::NOT_FOUND, "this is no command"));
        };
        let body = if template
            .places()
            .iter()
            .any(|place| matches!(place, Place::Body(_)))
        {
            json(body)?
        } else {
            Value::Null
        };
        let source = Source {
            path: &matched.path,
            body: &body,
        };
        Ok(match template {
            CommandTemplate::PauseJob => Command::PauseJob,
            CommandTemplate::ResumeJob => Command::ResumeJob,
            CommandTemplate::CancelJob => Command::CancelJob,
            CommandTemplate::SetTarget { heater, celsius } => Command::SetTarget {
                heater: source.text(heater)?,
                celsius: source.number(celsius)?,
            },
        })
    }
}

fn json(body: &[u8]) -> Result<Value, Problem> {
    let bad = |detail: String| Problem::new(StatusCode::BAD_REQUEST, detail).at("");
    if body.trim_ascii().is_empty() {
        return Err(bad("the request has no body".to_owned()));
    }
    serde_json::from_slice(body).map_err(|error| bad(format!("the body is not JSON: {error}")))
}

struct Source<'a> {
    path: &'a PathParams,
    body: &'a Value,
}

impl Source<'_> {
    fn find(&self, place: &Place) -> Result<Value, Problem> {
        match place {
            Place::Path(name) => Ok(self.path.get(name).unwrap_or_default().into()),
            Place::Value(value) => Ok(value.clone()),
            Place::Body(pointer) => self
                .body
                .pointer(pointer)
                .cloned()
                .ok_or_else(|| bad(place, "is missing", None)),
        }
    }

    fn text(&self, place: &Place) -> Result<String, Problem> {
        match self.find(place)? {
            Value::String(text) => Ok(text),
            other => Err(bad(place, "is not a string", Some(&other))),
        }
    }

    /// Takes JSON numbers, and in a path digits too: everything is text there.
    fn number(&self, place: &Place) -> Result<f64, Problem> {
        let value = self.find(place)?;
        match (&value, place) {
            (Value::Number(number), _) => number.as_f64(),
            (Value::String(text), Place::Path(_)) => text.parse().ok(),
            _ => None,
        }
        .filter(|number| number.is_finite())
        .ok_or_else(|| bad(place, "is not a number", Some(&value)))
    }
}

fn bad(place: &Place, reason: &str, value: Option<&Value>) -> Problem {
    /// How much of a client's value is repeated to it.
    const SHOWN: usize = 40;
    let value = value.map_or_else(String::new, |value| {
        let text = value.to_string();
        let shown: String = text.chars().take(SHOWN).collect();
        let more = if shown.len() < text.len() { "…" } else { "" };
        format!(": {shown}{more}")
    });
    let (name, pointer) = match place {
        Place::Path(name) => (format!("{{{name}}} of the path"), None),
        Place::Body(pointer) => (pointer.clone(), Some(pointer)),
        Place::Value(_) => ("the dialect's value".to_owned(), None),
    };
    let problem = Problem::new(StatusCode::BAD_REQUEST, format!("{name} {reason}{value}"));
    match pointer {
        Some(pointer) => problem.at(pointer),
        None => problem,
    }
}
