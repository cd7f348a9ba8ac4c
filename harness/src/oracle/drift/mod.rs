//! Bodies that have drifted, one drift at one place after the other.
//!
//! The printer is in another state when the drift comes, so an old value is a wrong one. A claim is
//! then right if it is true of the printer as it is, however the watcher came to know; or it is
//! unknown, where the drift may take that away.

mod shown;
mod trial;

use coldbed_mock::dialect::Quantity;
use coldbed_mock::drift::{Drift, DriftClass};
use coldbed_mock::sim::Phase;

use super::{Trace, Verdict};

/// Is what was tried in one trial, and what is owed in it.
#[derive(Debug, Clone)]
pub struct Tried {
    /// The trial's label.
    pub label: String,
    /// What was raised, all at once; nothing in a last look at the printer as it ever was.
    pub drifts: Vec<Drift>,
    /// What is owed.
    pub class: DriftClass,
    /// What is not judged, because the host does say it.
    pub spared: Vec<Quantity>,
    /// Phases that the changed body may well be read as.
    pub also: Vec<Phase>,
    /// Whether it lasts for one answer only, in which no value gets old.
    pub is_brief: bool,
}

/// Verifies trial by trial that compatible drifts leave every claim right, that breaking and hostile
/// ones lead to nothing worse than unknown, that the watcher lives on, and that it knows again
/// afterwards.
///
/// Trials that none of `tried` has the label of are not judged.
pub fn verify_drifts(trace: &Trace<'_>, tried: &[Tried]) -> Verdict {
    let trials = trace.trials();
    let before = trials
        .first()
        .and_then(|first| first.trace.standing(first.from));
    let mut broken = Vec::new();
    let mut held = 0_usize;
    let mut unjudged = Vec::new();
    for trial in &trials {
        let Some(tried) = tried.iter().find(|tried| tried.label == trial.label) else {
            continue;
        };
        match trial::verify(trial, tried, before).about(trial.label) {
            Verdict::Violated(violations) => broken.extend(violations),
            Verdict::Held { .. } if tried.drifts.is_empty() => {}
            Verdict::Held { .. } => held += 1,
            Verdict::NotJudged { .. } if tried.drifts.is_empty() => {}
            Verdict::NotJudged { reason } => unjudged.push(format!("{}: {reason}", trial.label)),
        }
    }
    match (broken.is_empty(), held) {
        (false, _) => Verdict::Violated(broken),
        (true, 0) => Verdict::NotJudged {
            reason: match unjudged.is_empty() {
                true => "no drift was tried".to_owned(),
                false => unjudged.join("; "),
            },
        },
        (true, _) => Verdict::Held {
            note: match unjudged.is_empty() {
                true => format!("drifts tried: {held}"),
                false => format!("drifts tried: {held}; not judged: {}", unjudged.join("; ")),
            },
        },
    }
}
