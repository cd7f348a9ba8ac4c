//! What an operation may be answered, as a Responses Object.

use std::collections::BTreeMap;

use http::StatusCode;
use indexmap::IndexMap;
use serde_json::{Map, Value, json};

use super::shape::Shape;
use super::truths::truths;
use crate::dialect::argument::CommandTemplate;
use crate::dialect::order::OrderTemplate;
use crate::dialect::refusal::Refusal;
use crate::dialect::route::{Condition, ContentTemplate, Route, RouteKind};
use crate::dialect::{
    AtTimeout, AuthScheme, Dialect, LongPollPlan, Problem, PushForm, PushMessages, Rendered,
    RouteId, filled,
};

/// Are answers by status.
#[derive(Debug, Default)]
pub(super) struct Responses(BTreeMap<u16, Response>);

#[derive(Debug, Default)]
struct Response {
    description: String,
    /// How many different answers have this status.
    ways: usize,
    headers: Vec<String>,
    /// Schemas by media type, each once.
    content: IndexMap<String, Vec<Value>>,
}

impl Responses {
    fn add(&mut self, status: StatusCode, description: &str) -> &mut Response {
        let response = self.0.entry(status.as_u16()).or_default();
        response.ways += 1;
        if response.description.is_empty() {
            description.clone_into(&mut response.description);
        } else if !response.description.contains(description) {
            response.description = format!("{} Or: {description}", response.description);
        }
        response
    }

    /// Adds the answers of another route for the same requests.
    pub(super) fn unite(&mut self, other: Self) {
        for (status, more) in other.0 {
            let status = StatusCode::from_u16(status).unwrap_or_default();
            let known = self.add(status, &more.description);
            more.headers.iter().for_each(|name| known.header(name));
            for (media, schemas) in more.content {
                schemas
                    .into_iter()
                    .for_each(|schema| known.content(&media, schema));
            }
        }
    }

    pub(super) fn written(&self) -> Value {
        let written = self.0.iter().map(|(status, response)| {
            let mut object = json!({ "description": response.description });
            for name in &response.headers {
                // A host that answers errors 200 has the fields of a success with a success only.
                let required = response.ways == 1;
                object["headers"][name] =
                    json!({ "required": required, "schema": { "type": "string" } });
            }
            for (media, schemas) in &response.content {
                object["content"][media] = json!({ "schema": any_of(schemas) });
            }
            (status.to_string(), object)
        });
        written.collect::<Map<_, _>>().into()
    }
}

/// Gives the schema of what fits any of some. Not `oneOf`: bodies may have further members, so one
/// that fits a schema may fit another as well.
pub(super) fn any_of(schemas: &[Value]) -> Value {
    match schemas {
        [only] => only.clone(),
        several => json!({ "anyOf": several }),
    }
}

impl Response {
    fn content(&mut self, media: &str, schema: Value) {
        let schemas = self.content.entry(media.to_owned()).or_default();
        if !schemas.contains(&schema) {
            schemas.push(schema);
        }
    }

    fn header(&mut self, name: &str) {
        if !self.headers.iter().any(|known| known == name) {
            self.headers.push(name.to_owned());
        }
    }

    /// Is written as all problems are.
    fn problem(&mut self, dialect: &Dialect) {
        let media = String::from_utf8_lossy(dialect.problem.content_type.as_bytes()).into_owned();
        self.content(&media, json!({ "$ref": "#/components/schemas/Problem" }));
    }
}

/// Collects what a route may answer. `schemas` takes what a stream's events hold.
pub(super) fn of(
    dialect: &Dialect,
    id: RouteId,
    has_body: bool,
    schemas: &mut Map<String, Value>,
) -> Responses {
    let route = dialect.of(id);
    let mut responses = Responses::default();
    success(dialect, id, &mut responses, schemas);
    let mut problem = |status: StatusCode, description: &str| {
        responses.add(status, description).problem(dialect);
    };
    problem(StatusCode::BAD_REQUEST, "The request is malformed.");
    if has_body {
        problem(
            StatusCode::REQUEST_TIMEOUT,
            "The request's body did not come in.",
        );
        problem(
            StatusCode::PAYLOAD_TOO_LARGE,
            "The request's body is too large.",
        );
    }
    if route.exists.is_some() {
        problem(
            route.missing_status,
            "What the request is about does not exist now.",
        );
    }
    if route.condition != Condition::default() {
        problem(
            StatusCode::NOT_FOUND,
            "The query or the body is not one that is answered.",
        );
    }
    unauthorised(dialect, route, &mut responses);
    if let RouteKind::Command(order) = &route.kind {
        refusals(dialect, id, order, &mut responses);
    }
    responses
}

fn success(
    dialect: &Dialect,
    id: RouteId,
    responses: &mut Responses,
    schemas: &mut Map<String, Value>,
) {
    let route = dialect.of(id);
    let media = String::from_utf8_lossy(route.content_type.as_bytes()).into_owned();
    let events = super::operation_id("events", &route.path);
    let form = match &route.kind {
        RouteKind::Push(plan) => Some(&plan.form),
        _ => None,
    };
    match form {
        Some(PushForm::WebSocket(_)) => return web_socket(dialect, id, responses, schemas),
        Some(PushForm::LongPoll(plan)) => long_poll(plan, responses),
        Some(PushForm::ServerSentEvents(_)) | None => {}
    }
    let sends_patches = dialect
        .push_plan(id)
        .is_some_and(|plan| plan.messages == PushMessages::MergePatch);
    let is_stream = matches!(form, Some(PushForm::ServerSentEvents(_)));
    let description = match &route.kind {
        RouteKind::Push(_) if is_stream => {
            schemas.insert(events.clone(), inferred(dialect, id));
            let rest = match sends_patches {
                true => "; after the first event, a merge patch of it (RFC 7396)",
                false => "",
            };
            format!(
                "A stream of server-sent events that does not end (WHATWG HTML). The data of each \
                 is JSON of the schema `{events}`{rest}."
            )
        }
        RouteKind::Push(_) => "As it is now, once the client has not seen it yet.".to_owned(),
        RouteKind::Command(_) => "It is done, or will be.".to_owned(),
        RouteKind::LogIn(_) => "The client is logged in.".to_owned(),
        RouteKind::LogOut => "The client is logged out.".to_owned(),
        RouteKind::Body => "As it is now.".to_owned(),
    };
    let response = responses.add(route.status, &description);
    match &route.content {
        _ if is_stream => response.content(&media, stream(&events, sends_patches)),
        Some(ContentTemplate::Json(_)) => response.content(&media, inferred(dialect, id)),
        Some(ContentTemplate::Text(_)) => response.content(&media, json!({ "type": "string" })),
        // Bytes as they are have no schema (Media Type Object, "Considerations for File Uploads").
        Some(ContentTemplate::Bytes(_)) => response.content(&media, json!({})),
        None => {}
    }
    for (name, _) in &route.live_headers {
        response.header(name.as_str());
    }
    // As `Dialect::answer` tags it and `Answer::conditional` answers.
    let is_shown = route.kind.is_tagged() && route.method == http::Method::GET;
    if is_shown && route.status == StatusCode::OK && route.content.is_some() {
        response.header("ETag");
        let description = "The client has it already (RFC 9110 section 15.4.5).";
        responses
            .add(StatusCode::NOT_MODIFIED, description)
            .header("ETag");
    }
}

/// Describes the handshake: OpenAPI has no word for what follows it, so the schema of the messages
/// stands among the components.
///
/// # Source
/// RFC 6455 section 4.2.2 (101), section 4.4 (426).
fn web_socket(
    dialect: &Dialect,
    id: RouteId,
    responses: &mut Responses,
    schemas: &mut Map<String, Value>,
) {
    let messages = super::operation_id("messages", &dialect.of(id).path);
    schemas.insert(messages.clone(), inferred(dialect, id));
    let description = format!(
        "A WebSocket is opened (RFC 6455). Its first message is JSON of the schema `{messages}`."
    );
    responses.add(StatusCode::SWITCHING_PROTOCOLS, &description);
    let description = "The request does not ask for a WebSocket of version 13.";
    let response = responses.add(StatusCode::UPGRADE_REQUIRED, description);
    response.problem(dialect);
    response.header("Upgrade");
}

/// Describes what a long poll says when its time is over and nothing has changed.
fn long_poll(plan: &LongPollPlan, responses: &mut Responses) {
    let status = match plan.at_timeout {
        AtTimeout::NoContent => StatusCode::NO_CONTENT,
        AtTimeout::NotModified => StatusCode::NOT_MODIFIED,
        AtTimeout::Body => return,
    };
    responses.add(status, "Nothing has changed in time.");
}

/// Gives the schema of a stream of server-sent events.
///
/// Version 3.1 of the specification has no word for a part of a body, and takes the stream for one
/// text; 3.2 looks at each event as an object (from memory). Without a `type` both are right.
fn stream(events: &str, sends_patches: bool) -> Value {
    let whole = json!({ "$ref": format!("#/components/schemas/{events}") });
    let data = match sends_patches {
        true => any_of(&[whole, json!({ "type": "object" })]),
        false => whole,
    };
    json!({
        "properties": {
            "data": {
                "type": "string",
                "contentMediaType": "application/json",
                "contentSchema": data,
            },
        },
        "required": ["data"],
    })
}

/// Infers the schema of a route's JSON.
fn inferred(dialect: &Dialect, id: RouteId) -> Value {
    let is_log_in = matches!(dialect.of(id).kind, RouteKind::LogIn(_));
    let mut shape = Shape::default();
    for (side, truth) in truths() {
        for matched in filled::requests(dialect, id, truth) {
            let rendered = if is_log_in {
                dialect.render_log_in(&matched, truth, "token")
            } else {
                dialect.render(&matched, truth)
            };
            // A dialect that asks for a heater by name says nothing where it is called otherwise.
            if let Ok(Rendered::Body(body)) = rendered {
                shape.add(&body, *side);
            }
        }
    }
    shape.schema()
}

fn unauthorised(dialect: &Dialect, route: &Route, responses: &mut Responses) {
    let is_log_in = matches!(route.kind, RouteKind::LogIn(_));
    if *dialect.auth() == AuthScheme::None || (route.open && !is_log_in) {
        return;
    }
    let status = dialect.refusal_status.unwrap_or(StatusCode::UNAUTHORIZED);
    let response = responses.add(status, "The key is missing or wrong.");
    response.problem(dialect);
    let has_challenge = matches!(
        dialect.auth(),
        AuthScheme::Bearer { .. } | AuthScheme::Basic { .. }
    );
    if has_challenge && !is_log_in {
        response.header("WWW-Authenticate");
    }
}

/// Adds how a command is answered that is not carried out.
fn refusals(dialect: &Dialect, id: RouteId, order: &OrderTemplate, responses: &mut Responses) {
    let mut kinds = vec![("wrong-phase", StatusCode::CONFLICT)];
    match order.command {
        CommandTemplate::PauseJob | CommandTemplate::ResumeJob | CommandTemplate::CancelJob => {}
        CommandTemplate::StartJob { .. } => {
            kinds.extend([
                ("unknown-job", StatusCode::NOT_FOUND),
                ("no-job", StatusCode::NOT_FOUND),
            ]);
        }
        CommandTemplate::SetTarget { .. } => {
            kinds = vec![
                ("unknown-heater", StatusCode::NOT_FOUND),
                ("out-of-range", StatusCode::UNPROCESSABLE_ENTITY),
            ];
        }
    }
    if order.when.is_some() {
        kinds.push(("condition", StatusCode::CONFLICT));
    }
    for (kind, status) in kinds {
        let description = match status {
            StatusCode::CONFLICT => "Not in the present state.",
            StatusCode::NOT_FOUND => "There is no such thing.",
            _ => "The value was understood and cannot be followed.",
        };
        let refusal = Refusal {
            kind,
            problem: Problem::new(status, description),
        };
        let own = order.refused.as_ref();
        if own.is_none_or(|own| own.body.is_none() && own.content_type.is_none()) {
            let status = own.and_then(|own| own.status).unwrap_or(status);
            responses.add(status, description).problem(dialect);
            continue;
        }
        own_refusals(dialect, id, &refusal, description, responses);
    }
}

/// Infers how a route itself writes a refusal.
fn own_refusals(
    dialect: &Dialect,
    id: RouteId,
    refusal: &Refusal,
    description: &str,
    responses: &mut Responses,
) {
    let mut shape = Shape::default();
    let mut head = None;
    for (side, truth) in truths() {
        for matched in filled::requests(dialect, id, truth) {
            let Ok(answer) = dialect.refusal(&matched, refusal, truth) else {
                continue;
            };
            if let Ok(value) = serde_json::from_slice(&answer.body) {
                shape.add(&value, *side);
            }
            head = Some((answer.status, answer.headers));
        }
    }
    if let Some((status, headers)) = head {
        let response = responses.add(status, description);
        if let Some(media) = headers.get(http::header::CONTENT_TYPE) {
            let media = String::from_utf8_lossy(media.as_bytes()).into_owned();
            response.content(&media, shape.schema());
        }
    }
}
