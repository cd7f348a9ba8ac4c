//! Hosts that leave out what a watcher is judged by, and streams without a body to ask for.
//!
//! Whether something is shown is found by changing it in the truth and looking for a difference:
//! an expression may reach it in many ways.

use super::Warning;
use super::document::Document;
use crate::dialect::file::Whole;
use crate::dialect::route::{RouteId, RouteKind};
use crate::dialect::sample::{self, Sample};
use crate::dialect::{Dialect, Rendered, filled};
use crate::sim::{JobState, Phase, PrinterState, Truth};

/// Looks at what one version shows.
pub(super) fn look(
    document: &Document<'_>,
    dialect: &Dialect,
    whole: &Whole<'_>,
    warnings: &mut Vec<Warning>,
) {
    let samples = sample::samples();
    let mut warn = |route: RouteId, message: &str| {
        let Some(layer) = whole.routes.get(route.0) else {
            return;
        };
        warnings.push(Warning {
            line: document.line_of(layer.written.span().start),
            field: layer.field.clone(),
            message: message.to_owned(),
        });
    };
    let first = RouteId(0);
    if !shows(dialect, &samples, change_state) {
        warn(
            first,
            "neither this nor any other route shows the phase, `printer.state` or `job.state`: a \
             watcher of this host cannot be judged by its state",
        );
    }
    if !shows(dialect, &samples, change_temperatures) {
        warn(
            first,
            "neither this nor any other route shows a temperature: a watcher of this host cannot be \
             judged by one",
        );
    }
    for push in routes(dialect).filter(|id| is_push(dialect, *id)) {
        let pushed = says(dialect, push, &samples);
        let is_shown = routes(dialect)
            .filter(|id| is_shown(dialect, *id))
            .any(|id| says(dialect, id, &samples) == pushed);
        if !is_shown {
            warn(
                push,
                "no GET route without `push` shows the same: a client that lost the stream has \
                 nothing to ask",
            );
        }
    }
}

fn routes(dialect: &Dialect) -> impl Iterator<Item = RouteId> {
    (0..dialect.routes.len()).map(RouteId)
}

fn is_push(dialect: &Dialect, id: RouteId) -> bool {
    let kind = &dialect.of(id).kind;
    matches!(kind, RouteKind::Push(_)) && !kind.is_tagged()
}

fn is_shown(dialect: &Dialect, id: RouteId) -> bool {
    let route = dialect.of(id);
    // A long poll can be asked like any other body.
    route.method == http::Method::GET && route.kind.is_tagged()
}

/// Tells whether some body changes with a truth.
fn shows(dialect: &Dialect, samples: &[Sample], change: fn(&mut Truth)) -> bool {
    let changed: Vec<Sample> = samples
        .iter()
        .cloned()
        .map(|mut sample| {
            change(&mut sample.truth);
            sample
        })
        .collect();
    routes(dialect)
        .filter(|id| is_shown(dialect, *id) || is_push(dialect, *id))
        .any(|id| says(dialect, id, samples) != says(dialect, id, &changed))
}

/// Gives everything a route says.
fn says(dialect: &Dialect, id: RouteId, samples: &[Sample]) -> Vec<Option<Rendered>> {
    let each = |sample: &Sample| -> Vec<Option<Rendered>> {
        filled::requests(dialect, id, &sample.truth)
            .iter()
            .map(|matched| dialect.render(matched, &sample.truth).ok())
            .collect()
    };
    samples.iter().flat_map(each).collect()
}

fn change_state(truth: &mut Truth) {
    truth.phase = match truth.phase {
        Phase::Paused => Phase::Printing,
        _ => Phase::Paused,
    };
    truth.printer.state = match truth.printer.state {
        PrinterState::Stopped => PrinterState::Processing,
        _ => PrinterState::Stopped,
    };
    if let Some(job) = &mut truth.job {
        job.state = match job.state {
            JobState::ProcessingStopped => JobState::Processing,
            _ => JobState::ProcessingStopped,
        };
    }
}

fn change_temperatures(truth: &mut Truth) {
    for heater in truth.heaters.values_mut() {
        heater.actual_celsius = heater.actual_celsius.map(|celsius| celsius - 17.0);
    }
}
