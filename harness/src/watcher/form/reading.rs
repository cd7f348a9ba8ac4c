//! What was understood of a line.

use std::fmt;

use super::Quantity;
use crate::watcher::{Claim, PhaseClaim, Sighting};

/// Is what was understood of one line, field by field.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Reading {
    /// What was found for each quantity.
    pub(crate) findings: Vec<Finding>,
    /// What was wrong with the line as a whole.
    pub(crate) notes: Vec<String>,
    /// What stands after the line; `None` if it is no sighting.
    pub(crate) sighting: Option<Sighting>,
}

/// Is what a line says of one quantity.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Finding {
    /// The quantity.
    pub(crate) quantity: Quantity,
    /// The value as it stands in the line; `None` where there is none.
    pub(crate) raw: Option<String>,
    /// What it says.
    pub(crate) said: Said,
    /// What is wrong with it, and what to do.
    pub(crate) problem: Option<String>,
}

/// Is a claim of any kind.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Said {
    /// A phase.
    Phase(Claim<PhaseClaim>),
    /// A number: percent, Celsius or seconds.
    Number(Claim<f64>),
    /// On or off.
    Switch(Claim<bool>),
    /// Text.
    Text(Claim<String>),
}

impl Reading {
    /// Describes a line that is no sighting.
    pub(super) fn none(note: impl Into<String>) -> Self {
        Self {
            notes: vec![note.into()],
            ..Self::default()
        }
    }

    /// Says why the line is no sighting.
    pub(crate) fn why_none(&self) -> String {
        self.notes.join("; ")
    }
}

impl Finding {
    /// Lays what was found over what stands. What says nothing changes nothing.
    pub(super) fn lay_over(&self, standing: &mut Sighting) {
        match (&self.quantity, &self.said) {
            (Quantity::Phase, Said::Phase(claim)) => put(&mut standing.phase, claim),
            (Quantity::Progress, Said::Number(claim)) => put(&mut standing.progress_percent, claim),
            (Quantity::Elapsed, Said::Number(claim)) => put(&mut standing.elapsed_seconds, claim),
            (Quantity::Remaining, Said::Number(claim)) => {
                put(&mut standing.remaining_seconds, claim);
            }
            (Quantity::JobName, Said::Text(claim)) => put(&mut standing.job_name, claim),
            (Quantity::Reason, Said::Text(claim)) => put(&mut standing.reason, claim),
            (Quantity::Safe, Said::Switch(claim)) => put(&mut standing.safe_to_touch, claim),
            (Quantity::Actual(heater), Said::Number(claim)) => {
                let heater = standing.heaters.entry(heater.clone()).or_default();
                put(&mut heater.actual_celsius, claim);
            }
            (Quantity::Target(heater), Said::Number(claim)) => {
                let heater = standing.heaters.entry(heater.clone()).or_default();
                put(&mut heater.target_celsius, claim);
            }
            (Quantity::On(heater), Said::Switch(claim)) => {
                let heater = standing.heaters.entry(heater.clone()).or_default();
                put(&mut heater.on, claim);
            }
            // The file's types give each quantity the claim of its kind.
            _ => {}
        }
    }
}

fn put<T: Clone>(standing: &mut Claim<T>, claim: &Claim<T>) {
    if claim.is_reported() {
        *standing = claim.clone();
    }
}

impl Said {
    /// Tells whether it says anything, be it that the watcher does not know.
    pub(crate) fn is_something(&self) -> bool {
        match self {
            Self::Phase(claim) => claim.is_reported(),
            Self::Number(claim) => claim.is_reported(),
            Self::Switch(claim) => claim.is_reported(),
            Self::Text(claim) => claim.is_reported(),
        }
    }

    /// Tells whether it gives a value.
    pub(crate) fn is_value(&self) -> bool {
        match self {
            Self::Phase(claim) => matches!(claim, Claim::Value(_)),
            Self::Number(claim) => matches!(claim, Claim::Value(_)),
            Self::Switch(claim) => matches!(claim, Claim::Value(_)),
            Self::Text(claim) => matches!(claim, Claim::Value(_)),
        }
    }
}

impl fmt::Display for Said {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Phase(Claim::Value(phase)) => f.pad(&phase.to_string()),
            Self::Number(Claim::Value(number)) => f.pad(&shown(*number)),
            Self::Switch(Claim::Value(on)) => f.pad(if *on { "on" } else { "off" }),
            Self::Text(Claim::Value(text)) => f.pad(text),
            said if said.is_something() => f.pad("unknown"),
            _ => f.pad("as before"),
        }
    }
}

/// Writes a number with as many digits as are of use to a person: three after the point at most.
fn shown(number: f64) -> String {
    let text = format!("{number:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
