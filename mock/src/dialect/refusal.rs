//! How a route answers a command that is not carried out.

use bytes::Bytes;
use http::StatusCode;
use http::header::CONTENT_TYPE;

use super::order::{Order, OrderTemplate};
use super::render::{self, RenderError};
use super::route::{Matched, RouteKind};
use super::{Answer, Dialect, Problem};
use crate::sim::{Refused, Truth};

/// Says, to a dialect's expressions, why a command was not carried out.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Refusal {
    /// One word for the kind.
    pub(super) kind: &'static str,
    /// The status, unless the route has its own.
    pub(super) problem: Problem,
}

impl From<&Refused> for Refusal {
    fn from(refused: &Refused) -> Self {
        Self {
            kind: kind(refused),
            problem: Problem::from(refused),
        }
    }
}

/// Lists every kind that expressions can see.
pub(super) const KINDS: [&str; 6] = [
    CONDITION,
    "wrong-phase",
    "unknown-job",
    "no-job",
    "unknown-heater",
    "out-of-range",
];

/// The kind of what the route's own condition does not let through.
const CONDITION: &str = "condition";

/// The kinds as expressions see them.
fn kind(refused: &Refused) -> &'static str {
    match refused {
        Refused::WrongPhase { .. } => "wrong-phase",
        Refused::UnknownJob { .. } => "unknown-job",
        Refused::NoJob => "no-job",
        Refused::UnknownHeater { .. } => "unknown-heater",
        Refused::TargetOutOfRange { .. } => "out-of-range",
    }
}

impl Dialect {
    /// Says, before the printer is asked, what becomes of an order: `None` when the printer decides.
    ///
    /// # Errors
    /// The dialect has a fault that its check could not find.
    pub fn decide(
        &self,
        matched: &Matched,
        order: &Order,
        truth: &Truth,
    ) -> Result<Option<Decided>, RenderError> {
        let Some(template) = self.order_template(matched) else {
            return Ok(None);
        };
        if let Some(problem) = self.missing(matched, truth)? {
            return Ok(Some(Decided::Answer(self.problem(&problem))));
        }
        if template.is_done_already(&order.command, truth) {
            return Ok(Some(Decided::DoneAlready));
        }
        if let Some(when) = &template.when
            && !render::holds(when, &self.scope(truth, matched))?
        {
            let refusal = Refusal {
                kind: CONDITION,
                problem: Problem::new(StatusCode::CONFLICT, "not in the present state"),
            };
            return self
                .refusal(matched, &refusal, truth)
                .map(|answer| Some(Decided::Answer(answer)));
        }
        Ok(None)
    }

    /// Writes what a route answers when the printer refuses.
    ///
    /// # Errors
    /// The dialect has a fault that its check could not find.
    pub fn refused(
        &self,
        matched: &Matched,
        refused: &Refused,
        truth: &Truth,
    ) -> Result<Answer, RenderError> {
        self.refusal(matched, &Refusal::from(refused), truth)
    }

    pub(super) fn refusal(
        &self,
        matched: &Matched,
        refusal: &Refusal,
        truth: &Truth,
    ) -> Result<Answer, RenderError> {
        let own = self
            .order_template(matched)
            .and_then(|template| template.refused.as_ref());
        let Some(own) = own else {
            return Ok(self.problem(&refusal.problem));
        };
        let mut problem = refusal.problem.clone();
        problem.status = own.status.unwrap_or(problem.status);
        let mut answer = self.problem(&problem);
        if let Some(body) = &own.body {
            let scope = self.scope(truth, matched).bind(
                "refusal",
                minijinja::context! {
                    kind => refusal.kind,
                    detail => problem.detail,
                    status => problem.status.as_u16(),
                    title => problem.status.canonical_reason().unwrap_or("Error"),
                },
            );
            answer.body = Bytes::from(render::body(body, &scope)?.to_string());
            answer.headers.insert(
                CONTENT_TYPE,
                http::HeaderValue::from_static("application/json"),
            );
        }
        if let Some(content_type) = &own.content_type {
            answer.headers.insert(CONTENT_TYPE, content_type.clone());
        }
        Ok(answer)
    }

    fn order_template(&self, matched: &Matched) -> Option<&OrderTemplate> {
        match &self.of(matched.route).kind {
            RouteKind::Command(template) => Some(template),
            _ => None,
        }
    }
}

/// Says what becomes of an order without asking the printer.
#[derive(Debug, Clone, PartialEq)]
pub enum Decided {
    /// It is answered as if it had been carried out now.
    DoneAlready,
    /// It is answered so.
    Answer(Answer),
}
