//! Renders every body with sample truths, so that slips show when the file is read.

use indexmap::IndexMap;

use super::reader::{Reader, field_at};
use crate::dialect::error::{DialectError, DialectProblem};
use crate::dialect::file::Whole;
use crate::dialect::push_plan::PushMessages;
use crate::dialect::refusal::{self, Refusal};
use crate::dialect::render::{self, RenderError, Rendered};
use crate::dialect::route::{Matched, RouteId, RouteKind};
use crate::dialect::sample::{self, Sample};
use crate::dialect::{Dialect, Problem, filled, names};
use crate::sim::HeaterTruth;

/// Renders every body with every sample.
///
/// # Errors
/// The first body that cannot be rendered.
pub(super) fn run(
    dialect: &Dialect,
    reader: &Reader<'_>,
    whole: &Whole<'_>,
) -> Result<(), DialectError> {
    let fail = |field: &str, sample: &str, error: &RenderError, known: &[String]| DialectError {
        file: reader.file.to_owned(),
        line: error.line,
        field: match error.line {
            Some(_) => field_at(&error.field, &error.pointer),
            None => field.to_owned(),
        },
        problem: Box::new(DialectProblem::Render {
            sample: sample.to_owned(),
            message: error.message.clone(),
            hint: hint(error, known),
        }),
    };
    for (sample, problem) in problems() {
        let known = ["status", "title", "detail", "pointer"].map(str::to_owned);
        dialect
            .problem
            .render(&problem)
            .map_err(|error| fail("problem.body", &sample, &error, &known))?;
    }
    for sample in sample::samples().into_iter().chain(sample::edges()) {
        for (index, _) in dialect.routes.iter().enumerate() {
            try_route(dialect, RouteId(index), &sample).map_err(|error| {
                let known = known_names(dialect);
                let field = format!("{}.body", whole.routes[index].field);
                fail(&field, &sample.name, &error, &known)
            })?;
        }
        if let Some(plan) = &dialect.mqtt {
            plan.check(&sample.truth)
                .map_err(|error| fail("mqtt", &sample.name, &error, &known_names(dialect)))?;
        }
    }
    Ok(())
}

/// The statuses of the problems that the server tells of.
const STATUSES: [u16; 14] = [
    400, 401, 403, 404, 405, 408, 409, 410, 413, 422, 500, 501, 503, 505,
];

fn problems() -> Vec<(String, Problem)> {
    let mut problems = Vec::new();
    for status in STATUSES {
        let status = http::StatusCode::from_u16(status).unwrap_or_default();
        let problem = Problem::new(status, "there is no job");
        problems.push((
            format!("problem {status} without a pointer"),
            problem.clone(),
        ));
        let problem = problem.at("/target-celsius");
        problems.push((format!("problem {status} with a pointer"), problem));
    }
    problems
}

impl Dialect {
    /// Tries every body with the heaters of a truth, in every phase.
    ///
    /// A dialect may ask for a heater by name, and only the scenario says which there are.
    ///
    /// # Errors
    /// The route, and what cannot be rendered.
    pub fn check_heaters(
        &self,
        heaters: &IndexMap<String, HeaterTruth>,
    ) -> Result<(), (RouteId, RenderError)> {
        let mut unread = heaters.clone();
        for heater in unread.values_mut() {
            heater.actual_celsius = None;
        }
        let mut samples = sample::samples();
        for sample in &mut samples {
            sample.truth.heaters = heaters.clone();
        }
        if let Some(first) = samples.first().cloned() {
            samples.push(first);
        }
        if let Some(last) = samples.last_mut() {
            last.truth.heaters = unread;
        }
        for sample in samples {
            for index in 0..self.routes.len() {
                let route = RouteId(index);
                try_route(self, route, &sample).map_err(|error| (route, error))?;
            }
        }
        Ok(())
    }
}

/// Renders everything a route can say.
fn try_route(dialect: &Dialect, id: RouteId, sample: &Sample) -> Result<(), RenderError> {
    for matched in filled::requests(dialect, id, &sample.truth) {
        try_matched(dialect, &matched, sample)?;
    }
    Ok(())
}

fn try_matched(dialect: &Dialect, matched: &Matched, sample: &Sample) -> Result<(), RenderError> {
    let truth = &sample.truth;
    let route = dialect.of(matched.route);
    let rendered = match &route.kind {
        RouteKind::LogIn(_) => dialect.render_log_in(matched, truth, "token")?,
        RouteKind::Body | RouteKind::Command(_) | RouteKind::Push(_) | RouteKind::LogOut => {
            dialect.render(matched, truth)?
        }
    };
    match &rendered {
        Rendered::Missing(_) => return Ok(()),
        Rendered::Body(body) if body.is_object() => {}
        _ if sends_patches(dialect, matched.route) => {
            let message = "messages = \"merge-patch\" needs an object, and this is none (RFC 7396 \
                           changes members)";
            return Err(RenderError::of_the_whole(message.to_owned()));
        }
        _ => {}
    }
    dialect.finish(matched, truth, rendered)?;
    if let RouteKind::Command(order) = &route.kind {
        if let Some(when) = &order.when {
            render::holds(when, &dialect.scope(truth, matched))?;
        }
        for kind in refusal::KINDS {
            let problem = Problem::new(http::StatusCode::CONFLICT, "not now");
            dialect.refusal(matched, &Refusal { kind, problem }, truth)?;
        }
    }
    Ok(())
}

fn sends_patches(dialect: &Dialect, route: RouteId) -> bool {
    dialect
        .push_plan(route)
        .is_some_and(|plan| plan.messages == PushMessages::MergePatch)
}

/// Finds what an unknown name may have meant: a known one alike in every part, or, for a name bound
/// in the body itself, its last part.
fn hint(error: &RenderError, known: &[String]) -> Option<String> {
    let strange = error.names.iter().find(|name| !known.contains(name))?;
    let parts: Vec<&str> = strange.split('.').collect();
    let alike = known.iter().map(String::as_str).filter(|name| {
        let known: Vec<&str> = name.split('.').collect();
        known.len() == parts.len()
            && known
                .iter()
                .zip(&parts)
                .all(|(known, part)| names::alike(known, part))
    });
    names::nearest(strange, alike).or_else(|| {
        let fields = || known.iter().filter_map(|name| name.rsplit('.').next());
        let last = parts.last().filter(|_| parts.len() > 1)?;
        names::nearest(last, fields().filter(|field| field != last))
            .filter(|_| !fields().any(|field| field == *last))
    })
}

/// Gives every dotted name an expression could use in one sample or another.
fn known_names(dialect: &Dialect) -> Vec<String> {
    let mut known = Vec::new();
    let words = serde_json::to_value(&dialect.words).unwrap_or_default();
    dotted("words", &words, &mut known);
    for sample in sample::samples() {
        let truth = serde_json::to_value(&sample.truth).unwrap_or_default();
        dotted("", &truth, &mut known);
    }
    known
}

fn dotted(prefix: &str, value: &serde_json::Value, known: &mut Vec<String>) {
    if !prefix.is_empty() {
        known.push(prefix.to_owned());
    }
    let Some(members) = value.as_object() else {
        return;
    };
    for (name, value) in members {
        let path = if prefix.is_empty() {
            name.clone()
        } else {
            format!("{prefix}.{name}")
        };
        dotted(&path, value, known);
    }
}
