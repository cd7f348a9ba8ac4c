//! Reads a command and its arguments out of a request.

use http::{HeaderName, StatusCode};
use serde_json::Value;

use super::expression::Expression;
use super::order::Order;
use super::render::RenderError;
use super::route::{LogInTemplate, Matched, RouteKind};
use super::scope::Scope;
use super::{Access, Dialect, Problem, Request, term};
use crate::sim::{Command, Truth};

/// Is a command with the places of its arguments.
#[derive(Debug)]
pub(super) enum CommandTemplate {
    /// As [`Command::PauseJob`].
    PauseJob,
    /// As [`Command::ResumeJob`].
    ResumeJob,
    /// As [`Command::CancelJob`].
    CancelJob,
    /// As [`Command::StartJob`].
    StartJob {
        /// Where the job's name is, if one is asked for.
        job: Option<Place>,
    },
    /// As [`Command::SetTarget`].
    SetTarget {
        /// Where the heater's name is.
        heater: Place,
        /// Where the target is.
        celsius: Place,
    },
}

/// Says where an argument is.
#[derive(Debug)]
pub(super) enum Place {
    /// In the path, under a parameter's name.
    Path(String),
    /// In the query, under a parameter's name.
    Query(String),
    /// In a form in the body, under a field's name.
    Form(String),
    /// In a header field.
    Header(HeaderName),
    /// In the JSON body, at a JSON Pointer (RFC 6901).
    Body(String),
    /// In the dialect.
    Value(Value),
    /// Worked out from the truth and what the request brought.
    Expression(Expression),
}

impl CommandTemplate {
    /// The commands' names in a file.
    pub(super) const NAMES: [&'static str; 5] = [
        "pause-job",
        "resume-job",
        "cancel-job",
        "start-job",
        "set-target",
    ];

    /// Gives the places of the arguments, with their names in a file.
    pub(super) fn places(&self) -> Vec<(&'static str, &Place)> {
        match self {
            Self::PauseJob | Self::ResumeJob | Self::CancelJob => Vec::new(),
            Self::StartJob { job } => job.iter().map(|job| ("job", job)).collect(),
            Self::SetTarget { heater, celsius } => vec![("heater", heater), ("celsius", celsius)],
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
    pub fn order(
        &self,
        matched: &Matched,
        request: &Request<'_>,
        truth: &Truth,
    ) -> Result<Order, Problem> {
        let RouteKind::Command(template) = &self.of(matched.route).kind else {
            return Err(Problem::new(StatusCode::NOT_FOUND, "this is no command"));
        };
        let places = template.command.places();
        let source = self.source(
            matched,
            request,
            truth,
            places.iter().map(|(_, place)| *place),
        )?;
        let command = match &template.command {
            CommandTemplate::PauseJob => Command::PauseJob,
            CommandTemplate::ResumeJob => Command::ResumeJob,
            CommandTemplate::CancelJob => Command::CancelJob,
            CommandTemplate::StartJob { job } => Command::StartJob {
                job: job.as_ref().map(|job| source.text(job)).transpose()?,
            },
            CommandTemplate::SetTarget { heater, celsius } => Command::SetTarget {
                heater: source.text(heater)?,
                celsius: source.number(celsius)?,
            },
        };
        let key = template.idempotency_key.as_ref();
        let key = key.and_then(|name| request.headers.get(name));
        Ok(Order {
            command,
            effect_after: template.effect_after,
            idempotency_key: key.map(|key| String::from_utf8_lossy(key.as_bytes()).into_owned()),
        })
    }

    /// Looks at what a log-in call brought.
    ///
    /// # Errors
    /// 400 for an argument that is not there, 401 for a wrong one; 404 when the route is no log-in.
    pub fn log_in(
        &self,
        matched: &Matched,
        request: &Request<'_>,
        truth: &Truth,
        access: &Access<'_>,
    ) -> Result<String, Problem> {
        let RouteKind::LogIn(template) = &self.of(matched.route).kind else {
            return Err(Problem::new(StatusCode::NOT_FOUND, "this is no log-in"));
        };
        let LogInTemplate { key, user } = &**template;
        let places = [Some(key), user.as_ref()];
        let source = self.source(matched, request, truth, places.into_iter().flatten())?;
        let user = user.as_ref().map(|user| source.text(user)).transpose()?;
        let key = source.text(key)?;
        self.check_log_in(user.as_deref(), &key, access)
            .map_err(|problem| self.as_this_host_refuses(problem))?;
        Ok(key)
    }

    /// Prepares for looking at places; the body has to be JSON only if one of them is in it.
    fn source<'a>(
        &self,
        matched: &'a Matched,
        request: &'a Request<'a>,
        truth: &Truth,
        mut places: impl Iterator<Item = &'a Place>,
    ) -> Result<Source<'a>, Problem> {
        if matched.body.is_none() && places.any(|place| matches!(place, Place::Body(_))) {
            return Err(not_json(request.body));
        }
        let scope = self.scope(truth, matched);
        Ok(Source {
            matched,
            request,
            scope,
        })
    }
}

fn not_json(body: &[u8]) -> Problem {
    let bad = |detail: String| Problem::new(StatusCode::BAD_REQUEST, detail).at("");
    if body.trim_ascii().is_empty() {
        return bad("the request has no body".to_owned());
    }
    match serde_json::from_slice::<Value>(body) {
        Ok(_) => bad("the body is not looked at".to_owned()),
        Err(error) => bad(format!("the body is not JSON: {error}")),
    }
}

struct Source<'a> {
    matched: &'a Matched,
    request: &'a Request<'a>,
    scope: Scope,
}

impl Source<'_> {
    fn find(&self, place: &Place) -> Result<Value, Problem> {
        let found = match place {
            Place::Path(name) => self.matched.path.get(name).map(Value::from),
            Place::Query(name) => self.request.query_parameter(name).map(Value::from),
            Place::Form(name) => self.request.form_field(name).map(Value::from),
            Place::Header(name) => self
                .request
                .headers
                .get(name)
                .map(|value| String::from_utf8_lossy(value.as_bytes()).into()),
            Place::Value(value) => Some(value.clone()),
            Place::Body(pointer) => self
                .matched
                .body
                .as_ref()
                .and_then(|body| body.pointer(pointer).cloned()),
            Place::Expression(expression) => Some(self.worked_out(expression, place)?),
        };
        found.ok_or_else(|| bad(place, "is missing", None))
    }

    fn worked_out(&self, expression: &Expression, place: &Place) -> Result<Value, Problem> {
        let value = expression
            .evaluate(&self.scope)
            .map_err(|no_value| bad(place, &format!("has no value: {}", no_value.message), None))?;
        term::alone(&value, expression)
            .map_err(|error: RenderError| bad(place, &error.to_string(), None))
    }

    fn text(&self, place: &Place) -> Result<String, Problem> {
        match self.find(place)? {
            Value::String(text) => Ok(text),
            other => Err(bad(place, "is not a string", Some(&other))),
        }
    }

    /// Takes JSON numbers, and digits wherever everything is text.
    fn number(&self, place: &Place) -> Result<f64, Problem> {
        let value = self.find(place)?;
        match (&value, place) {
            (Value::Number(number), _) => number.as_f64(),
            (Value::String(_), Place::Body(_) | Place::Value(_)) => None,
            (Value::String(text), _) => text.trim().parse().ok(),
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
        Place::Query(name) => (format!("query parameter `{name}`"), None),
        Place::Form(name) => (format!("form field `{name}`"), None),
        Place::Header(name) => (format!("header field `{name}`"), None),
        Place::Body(pointer) => (pointer.clone(), Some(pointer)),
        Place::Value(_) => ("the dialect's value".to_owned(), None),
        Place::Expression(_) => ("an argument".to_owned(), None),
    };
    let problem = Problem::new(StatusCode::BAD_REQUEST, format!("{name} {reason}{value}"));
    match pointer {
        Some(pointer) => problem.at(pointer),
        None => problem,
    }
}
