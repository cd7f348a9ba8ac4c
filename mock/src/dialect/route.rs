//! One route of a dialect.

use std::time::Duration;

use http::{HeaderMap, HeaderValue, Method, StatusCode};

use super::argument::CommandTemplate;
use super::body::{Node, Phrase};
use super::expression::Expression;

/// Names a route by its place in the dialect's file, counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct RouteId(pub(super) usize);

/// Is a route with the parameters its path was matched with.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Matched {
    /// The route.
    pub route: RouteId,
    /// The parameters of the path.
    pub path: PathParams,
}

/// Is the parameters of a path, percent-decoded, in the order of the path.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct PathParams(pub(super) Vec<(String, String)>);

impl PathParams {
    /// Gives a parameter's value.
    pub fn get(&self, name: &str) -> Option<&str> {
        self.0
            .iter()
            .find(|(known, _)| known == name)
            .map(|(_, value)| value.as_str())
    }
}

/// Says how a route pushes instead of answering once.
///
/// The body is looked at every `period` and sent when it has changed.
///
/// # Source
/// WHATWG HTML, "Server-sent events".
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PushPlan {
    /// Real time between two looks.
    pub period: Duration,
    /// Real time of silence after which a comment is sent.
    pub keep_alive: Duration,
    /// The reconnection time the client is told first.
    pub retry: Duration,
}

/// Is a checked route.
#[derive(Debug)]
pub(super) struct Route {
    pub(super) method: Method,
    pub(super) path: String,
    pub(super) status: StatusCode,
    pub(super) content_type: HeaderValue,
    pub(super) headers: HeaderMap,
    pub(super) exists: Option<Expression>,
    pub(super) missing: Phrase,
    pub(super) body: Option<Node>,
    pub(super) kind: RouteKind,
}

/// Says what a request for a route does.
#[derive(Debug)]
pub(super) enum RouteKind {
    /// Shows the truth.
    Body,
    /// Asks something of the printer.
    Command(CommandTemplate),
    /// Shows the truth again and again.
    Push(PushPlan),
}
