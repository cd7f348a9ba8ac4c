//! What an operation asks of a request: Parameter Objects and a Request Body Object.

use indexmap::IndexMap;
use serde_json::{Map, Value, json};

use super::responses::any_of;
use super::truths::{Side, truths};
use super::trying;
use crate::dialect::argument::{CommandTemplate, Place};
use crate::dialect::route::{Route, RouteKind};
use crate::dialect::{Dialect, Rendered, RouteId, filled};
use crate::sim::HeaterKind;

/// The media type of forms (WHATWG URL).
const FORM: &str = "application/x-www-form-urlencoded";

/// Is what a request for a route brings.
#[derive(Debug, Default)]
pub(super) struct Asked {
    parameters: Vec<Parameter>,
    body_is_required: bool,
    /// Schemas of the body by media type, each once.
    content: IndexMap<String, Vec<Value>>,
}

#[derive(Debug)]
struct Parameter {
    name: String,
    /// `path`, `query` or `header`.
    location: &'static str,
    required: bool,
    schemas: Vec<Value>,
    example: Option<String>,
}

/// Is an argument of a command or a log-in.
struct Argument<'a> {
    place: &'a Place,
    schema: Value,
}

impl Asked {
    pub(super) fn of(dialect: &Dialect, id: RouteId) -> Self {
        let route = dialect.of(id);
        let mut asked = Self::default();
        for name in filled::parameters(&route.path) {
            asked.parameter(&name, "path", true, json!({ "type": "string" }));
        }
        asked.query(route);
        asked.arguments(dialect, id);
        if let Some(example) = example(dialect, id) {
            let in_path = asked.parameters.iter_mut();
            for parameter in in_path.filter(|one| one.location == "path") {
                let is_text = parameter.schemas.iter().any(|one| one["type"] == "string");
                parameter.example = is_text.then(|| example.clone());
            }
        }
        asked
    }

    pub(super) fn has_body(&self) -> bool {
        !self.content.is_empty()
    }

    fn parameter(&mut self, name: &str, location: &'static str, required: bool, mut schema: Value) {
        if location == "path" && schema["type"] == "string" {
            // No piece of a path that is found is empty.
            schema["minLength"] = json!(1);
        }
        let known = self.parameters.iter_mut();
        let known = known
            .filter(|known| known.location == location)
            .find(|known| known.name == name);
        match known {
            // An argument says more than that there is a piece of the path.
            Some(known) => {
                known.schemas = vec![schema];
                known.required |= required;
            }
            None => self.parameters.push(Parameter {
                name: name.to_owned(),
                location,
                required,
                schemas: vec![schema],
                example: None,
            }),
        }
    }

    fn query(&mut self, route: &Route) {
        for known in &route.query {
            let mut schema = json!({ "type": "string" });
            if !known.one_of.is_empty() {
                schema["enum"] = json!(known.one_of);
            }
            if let Some(default) = &known.default {
                schema["default"] = json!(default);
            }
            self.parameter(&known.name, "query", known.required, schema);
        }
        for (name, value) in &route.condition.query {
            let schema = json!({ "type": "string", "enum": [value] });
            self.parameter(name, "query", true, schema);
        }
    }

    fn arguments(&mut self, dialect: &Dialect, id: RouteId) {
        let route = dialect.of(id);
        let arguments = arguments(&route.kind);
        let mut body = json!({});
        let mut form = json!({});
        for (pointer, value) in &route.condition.body {
            put(&mut body, &tokens(pointer), json!({ "const": value }), true);
        }
        for Argument { place, schema } in arguments {
            match place {
                Place::Path(name) => self.parameter(name, "path", true, schema),
                Place::Query(name) => self.parameter(name, "query", true, schema),
                Place::Header(name) => self.parameter(name.as_str(), "header", true, schema),
                Place::Form(name) => put(&mut form, std::slice::from_ref(name), schema, true),
                Place::Body(pointer) => put(&mut body, &tokens(pointer), schema, true),
                Place::Value(_) => {}
                Place::Expression(expression) => {
                    let wanted = &schema["type"];
                    for member in trying::taken(dialect, id, expression, wanted) {
                        put(&mut body, &member.path, member.schema, member.required);
                    }
                }
            }
        }
        if let RouteKind::Command(order) = &route.kind
            && let Some(field) = &order.idempotency_key
        {
            self.parameter(field.as_str(), "header", false, json!({ "type": "string" }));
        }
        for (media, schema) in [("application/json", body), (FORM, form)] {
            if schema != json!({}) {
                self.body_is_required |= schema.get("required").is_some() || !is_object(&schema);
                self.content.insert(media.to_owned(), vec![schema]);
            }
        }
    }

    /// Adds what another route for the same method and path asks for: it is one or the other.
    pub(super) fn unite(&mut self, other: Self) {
        for known in &mut self.parameters {
            let again = |one: &&Parameter| one.name == known.name && one.location == known.location;
            known.required &= other
                .parameters
                .iter()
                .any(|one| again(&one) && one.required);
        }
        for more in other.parameters {
            let known = self.parameters.iter_mut();
            let known = known
                .filter(|known| known.location == more.location)
                .find(|known| known.name == more.name);
            match known {
                Some(known) => {
                    let new = more.schemas.into_iter();
                    let new: Vec<Value> = new.filter(|one| !known.schemas.contains(one)).collect();
                    known.schemas.extend(new);
                }
                None => self.parameters.push(Parameter {
                    required: false,
                    ..more
                }),
            }
        }
        self.body_is_required &= other.body_is_required;
        for (media, schemas) in other.content {
            let known = self.content.entry(media).or_default();
            let new = schemas.into_iter();
            let new: Vec<Value> = new.filter(|schema| !known.contains(schema)).collect();
            known.extend(new);
        }
    }

    pub(super) fn write(&self, operation: &mut Map<String, Value>) {
        if !self.parameters.is_empty() {
            let parameters = self.parameters.iter().map(Parameter::written);
            operation.insert("parameters".to_owned(), parameters.collect());
        }
        if self.has_body() {
            let content = self.content.iter().map(|(media, schemas)| {
                let content = json!({ "schema": any_of(schemas) });
                (media.clone(), content)
            });
            operation.insert(
                "requestBody".to_owned(),
                json!({
                    "required": self.body_is_required,
                    "content": content.collect::<Map<_, _>>(),
                }),
            );
        }
    }
}

impl Parameter {
    fn written(&self) -> Value {
        let mut written = json!({
            "name": self.name,
            "in": self.location,
            "required": self.required,
            "schema": any_of(&self.schemas),
        });
        if let Some(example) = &self.example {
            written["example"] = json!(example);
        }
        written
    }
}

fn arguments(kind: &RouteKind) -> Vec<Argument<'_>> {
    let text = |place, description: &str| Argument {
        place,
        schema: json!({ "type": "string", "description": description }),
    };
    match kind {
        RouteKind::Command(order) => match &order.command {
            CommandTemplate::SetTarget { heater, celsius } => vec![
                Argument {
                    place: heater,
                    schema: json!({
                        "type": "string",
                        "description": "The heater's name.",
                        "examples": [HeaterKind::Extruder.word()],
                    }),
                },
                Argument {
                    place: celsius,
                    schema: json!({
                        "type": "number",
                        "description": "The target in degrees Celsius; 0 is off.",
                    }),
                },
            ],
            CommandTemplate::StartJob { job } => {
                let job = job.iter().map(|job| text(job, "The job's name."));
                job.collect()
            }
            CommandTemplate::PauseJob | CommandTemplate::ResumeJob | CommandTemplate::CancelJob => {
                Vec::new()
            }
        },
        RouteKind::LogIn(log_in) => {
            let user = log_in
                .user
                .iter()
                .map(|user| text(user, "The user's name."));
            [text(&log_in.key, "The key.")]
                .into_iter()
                .chain(user)
                .collect()
        }
        RouteKind::Body | RouteKind::Push(_) | RouteKind::LogOut => Vec::new(),
    }
}

/// Gives something that may stand in the path: the first name in a sample that is known where
/// another is not.
fn example(dialect: &Dialect, id: RouteId) -> Option<String> {
    dialect.of(id).exists.as_ref()?;
    let samples = truths().iter().filter(|(side, _)| *side == Side::Sample);
    samples.into_iter().find_map(|(_, truth)| {
        let requests = filled::requests(dialect, id, truth);
        let is_there = |place: usize| {
            let rendered = dialect.render(&requests[place], truth);
            matches!(rendered, Ok(rendered) if !matches!(rendered, Rendered::Missing(_)))
        };
        let found = (1..requests.len()).find(|place| is_there(*place))?;
        let value = requests[found].path.0.first()?.1.clone();
        value.filter(|_| !is_there(0))
    })
}

/// Takes a JSON Pointer apart (RFC 6901 section 4).
fn tokens(pointer: &str) -> Vec<String> {
    let tokens = pointer.split('/').skip(1);
    tokens
        .map(|token| token.replace("~1", "/").replace("~0", "~"))
        .collect()
}

fn is_object(schema: &Value) -> bool {
    schema["type"] == "object"
}

/// Puts a schema at a place below another. A token of digits is taken for a place in an array.
fn put(root: &mut Value, tokens: &[String], schema: Value, required: bool) {
    let Some((first, rest)) = tokens.split_first() else {
        *root = schema;
        return;
    };
    if let Ok(place) = first.parse::<usize>() {
        // JSON Schema counts from 0 too, and what stands before may be anything.
        let mut items = root["prefixItems"].as_array().cloned().unwrap_or_default();
        items.resize(items.len().max(place.min(MOST_ITEMS) + 1), json!({}));
        put(&mut items[place.min(MOST_ITEMS)], rest, schema, required);
        *root = json!({ "type": "array", "minItems": items.len(), "prefixItems": items });
        return;
    }
    if !is_object(root) {
        *root = json!({ "type": "object", "properties": {} });
    }
    put(&mut root["properties"][first], rest, schema, required);
    let known = root["required"].as_array().cloned().unwrap_or_default();
    if required && !known.contains(&json!(first)) {
        root["required"] = known.into_iter().chain([json!(first)]).collect();
    }
}

/// A pointer far into an array is described up to here, so that a slip does not fill the memory.
const MOST_ITEMS: usize = 99;
