//! One operation: a method of a path, with all the routes that answer it.

use serde_json::{Map, Value, json};

use super::request::Asked;
use super::responses::{self, Responses};
use super::security;
use crate::dialect::argument::CommandTemplate;
use crate::dialect::route::RouteKind;
use crate::dialect::{AuthScheme, Dialect, RouteId};

/// Is an operation in the making.
#[derive(Debug)]
pub(super) struct Operation {
    summaries: Vec<String>,
    asked: Asked,
    responses: Responses,
    /// For each route, whether it is served without a key; empty where none is asked for.
    open: Vec<bool>,
}

impl Operation {
    /// Describes one route.
    pub(super) fn of(dialect: &Dialect, id: RouteId, schemas: &mut Map<String, Value>) -> Self {
        let route = dialect.of(id);
        let asked = Asked::of(dialect, id);
        let responses = responses::of(dialect, id, asked.has_body(), schemas);
        let summary = dialect
            .summary(id)
            .unwrap_or_else(|| stands_in(&route.kind));
        let asks = *dialect.auth() != AuthScheme::None;
        Self {
            summaries: vec![summary.to_owned()],
            asked,
            responses,
            open: asks.then_some(route.open).into_iter().collect(),
        }
    }

    /// Adds another route for the same method and path.
    pub(super) fn unite(&mut self, other: Self) {
        let new = other.summaries.into_iter();
        let new: Vec<String> = new.filter(|one| !self.summaries.contains(one)).collect();
        self.summaries.extend(new);
        self.asked.unite(other.asked);
        self.responses.unite(other.responses);
        self.open.extend(other.open);
    }

    pub(super) fn written(&self, id: &str) -> Value {
        let mut operation = Map::new();
        operation.insert("operationId".to_owned(), id.into());
        operation.insert("summary".to_owned(), self.summaries.join("; ").into());
        if self.open.contains(&true) {
            let needed = self.open.contains(&false);
            let security = if needed {
                json!([{ security::NAME: [] }, {}])
            } else {
                json!([])
            };
            operation.insert("security".to_owned(), security);
        }
        self.asked.write(&mut operation);
        operation.insert("responses".to_owned(), self.responses.written());
        operation.into()
    }
}

/// Says what a route is for whose file does not.
fn stands_in(kind: &RouteKind) -> &'static str {
    match kind {
        RouteKind::Body => "Show how things are",
        RouteKind::Push(_) => "Show how things are, again and again",
        RouteKind::LogIn(_) => "Log in",
        RouteKind::LogOut => "Log out",
        RouteKind::Command(order) => match order.command {
            CommandTemplate::PauseJob => "Pause the job",
            CommandTemplate::ResumeJob => "Resume the job",
            CommandTemplate::CancelJob => "Cancel the job",
            CommandTemplate::StartJob { .. } => "Start a job",
            CommandTemplate::SetTarget { .. } => "Set a heater's target",
        },
    }
}
