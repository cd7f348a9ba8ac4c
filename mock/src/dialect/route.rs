//! One route of a dialect.

use std::sync::Arc;
use std::time::Duration;

use http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode};
use serde_json::Value;

use super::argument::Place;
use super::body::{Node, Phrase};
use super::expression::Expression;
use super::order::OrderTemplate;
use super::push_plan::{PushForm, PushPlan};
use super::text_body::TextTemplate;

/// Names a route by its place in the dialect's file, counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct RouteId(pub(super) usize);

/// Is a route with what a request brought along for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Matched {
    /// Which version of the host's dialect, by its place in the file.
    pub version: usize,
    /// The route.
    pub route: RouteId,
    /// The parameters of the path.
    pub path: Params,
    /// The parameters of the query that the route knows, with their defaults.
    pub query: Params,
    /// The request's body, if it was JSON.
    pub body: Option<Arc<Value>>,
}

impl Matched {
    /// Gives what two requests have in common that are shown the same; none if that depends on a
    /// body.
    pub fn shown_key(&self) -> Option<ShownKey> {
        self.body.is_none().then(|| self.key_without_body())
    }

    /// Gives what two requests have in common that differ in their bodies only.
    pub fn key_without_body(&self) -> ShownKey {
        ShownKey {
            version: self.version,
            route: self.route,
            path: self.path.clone(),
            query: self.query.clone(),
        }
    }
}

/// Is what requests that are shown the same have in common.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct ShownKey {
    version: usize,
    route: RouteId,
    path: Params,
    query: Params,
}

/// Is parameters with their values as text, decoded, in the order of the path or of the file. One
/// of the query that is not there and has no default has no value.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Params(pub(super) Vec<(String, Option<String>)>);

impl Params {
    /// Gives a parameter's value.
    pub fn get(&self, name: &str) -> Option<&str> {
        self.0
            .iter()
            .find(|(known, _)| known == name)
            .and_then(|(_, value)| value.as_deref())
    }
}

/// Is a checked route.
#[derive(Debug)]
pub(super) struct Route {
    pub(super) method: Method,
    pub(super) path: String,
    pub(super) condition: Condition,
    pub(super) query: Vec<QueryParameter>,
    /// Whether it is served without a key.
    pub(super) open: bool,
    pub(super) summary: Option<String>,
    pub(super) status: StatusCode,
    pub(super) content_type: HeaderValue,
    pub(super) headers: HeaderMap,
    /// The header fields with expressions in them.
    pub(super) live_headers: Vec<(HeaderName, Phrase)>,
    pub(super) exists: Option<Expression>,
    pub(super) missing: Phrase,
    pub(super) missing_status: StatusCode,
    pub(super) content: Option<ContentTemplate>,
    pub(super) answer_after: Duration,
    pub(super) kind: RouteKind,
}

/// Says which requests for a path are meant; an empty one means all.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Condition {
    pub(super) query: Vec<(String, String)>,
    /// Values by JSON Pointer (RFC 6901).
    pub(super) body: Vec<(String, Value)>,
}

/// Is a parameter of the query that a route knows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct QueryParameter {
    pub(super) name: String,
    pub(super) default: Option<String>,
    pub(super) required: bool,
    /// The values it may have; empty for any.
    pub(super) one_of: Vec<String>,
}

/// Is what a body is made from.
#[derive(Debug)]
pub(super) enum ContentTemplate {
    /// JSON with expressions in it.
    Json(Node),
    /// Text with expressions in it.
    Text(TextTemplate),
    /// Bytes as they are.
    Bytes(bytes::Bytes),
}

/// Says what a request for a route does.
#[derive(Debug)]
pub(super) enum RouteKind {
    /// Shows the truth.
    Body,
    /// Asks something of the printer.
    Command(Box<OrderTemplate>),
    /// Shows the truth again and again.
    Push(PushPlan),
    /// Gives a token for the key.
    LogIn(Box<LogInTemplate>),
    /// Takes the token back.
    LogOut,
}

/// Is a log-in call.
#[derive(Debug)]
pub(super) struct LogInTemplate {
    /// Where the key is.
    pub(super) key: Place,
    /// Where the user's name is, if one is asked for.
    pub(super) user: Option<Place>,
}

impl RouteKind {
    /// Tells whether answers carry a tag by which a client can say that it has this body.
    pub(super) fn is_tagged(&self) -> bool {
        match self {
            Self::Body => true,
            Self::Command(_) | Self::LogIn(_) | Self::LogOut => false,
            Self::Push(plan) => matches!(plan.form, PushForm::LongPoll(_)),
        }
    }
}
