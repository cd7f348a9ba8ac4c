//! What a quantity is, in truths and in claims.

use coldbed_mock::dialect::Quantity;
use coldbed_mock::sim::{JobTruth, Truth};
use unicode_normalization::UnicodeNormalization;

use crate::oracle::subject::{number_agrees, show_number};
use crate::watcher::{Claim, HeaterSighting, PhaseClaim, Sighting};

/// Is a value of whatever kind.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Shown {
    Phase(PhaseClaim),
    Number(f64),
    Flag(bool),
    Text(String),
}

impl std::fmt::Display for Shown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Phase(phase) => phase.fmt(f),
            Self::Number(number) => f.write_str(&show_number(number)),
            Self::Flag(flag) => flag.fmt(f),
            Self::Text(text) => write!(f, "`{text}`"),
        }
    }
}

/// Gives everything that can be judged of a printer with such heaters.
pub(super) fn quantities(truth: &Truth) -> Vec<Quantity> {
    let mut all = vec![Quantity::Phase];
    for name in truth.heaters.keys() {
        all.extend([
            Quantity::Actual(name.clone()),
            Quantity::Target(name.clone()),
            Quantity::On(name.clone()),
        ]);
    }
    all.extend([
        Quantity::Progress,
        Quantity::Elapsed,
        Quantity::Remaining,
        Quantity::JobName,
    ]);
    all
}

/// Gives a quantity's name in reports.
pub(super) fn name(quantity: &Quantity) -> String {
    match quantity {
        Quantity::Phase => "phase".to_owned(),
        Quantity::Actual(heater) => format!("{heater} actual-celsius"),
        Quantity::Target(heater) => format!("{heater} target-celsius"),
        Quantity::On(heater) => format!("{heater} on"),
        Quantity::Progress => "progress-percent".to_owned(),
        Quantity::Elapsed => "elapsed-seconds".to_owned(),
        Quantity::Remaining => "remaining-seconds".to_owned(),
        Quantity::JobName => "job-name".to_owned(),
    }
}

/// Gives what a truth says of a quantity; `None` where nothing is known of it.
pub(super) fn served(quantity: &Quantity, truth: &Truth) -> Option<Shown> {
    let heater = |name: &String| truth.heaters.get(name);
    let job = truth.job.as_ref();
    let of_job = |read: fn(&JobTruth) -> Option<f64>| job.and_then(read).map(Shown::Number);
    match quantity {
        Quantity::Phase => Some(Shown::Phase(PhaseClaim::Known(truth.phase))),
        Quantity::Actual(name) => heater(name)?.actual_celsius.map(Shown::Number),
        Quantity::Target(name) => Some(Shown::Number(heater(name)?.target_celsius)),
        Quantity::On(name) => Some(Shown::Flag(heater(name)?.on)),
        Quantity::Progress => of_job(|job| Some(job.progress_percent)),
        Quantity::Elapsed => of_job(|job| Some(job.elapsed_seconds)),
        Quantity::Remaining => of_job(|job| job.remaining_seconds),
        Quantity::JobName => Some(Shown::Text(job?.name.clone())),
    }
}

/// Gives what a sighting claims of a quantity.
pub(super) fn claimed(quantity: &Quantity, sighting: &Sighting) -> Option<Shown> {
    let heater = |name: &String| sighting.heaters.get(name);
    let of_heater = |name: &String, read: fn(&HeaterSighting) -> &Claim<f64>| {
        value(heater(name).map(read)?).map(Shown::Number)
    };
    match quantity {
        Quantity::Phase => value(&sighting.phase).map(Shown::Phase),
        Quantity::Actual(name) => of_heater(name, |heater| &heater.actual_celsius),
        Quantity::Target(name) => of_heater(name, |heater| &heater.target_celsius),
        Quantity::On(name) => value(&heater(name)?.on).map(Shown::Flag),
        Quantity::Progress => value(&sighting.progress_percent).map(Shown::Number),
        Quantity::Elapsed => value(&sighting.elapsed_seconds).map(Shown::Number),
        Quantity::Remaining => value(&sighting.remaining_seconds).map(Shown::Number),
        Quantity::JobName => value(&sighting.job_name).map(Shown::Text),
    }
}

/// Tells whether a claim is true of one of several truths, or of what lies between them.
pub(super) fn agrees(claimed: &Shown, served: &[Shown]) -> bool {
    if let Shown::Number(claimed) = claimed {
        let numbers: Vec<f64> = served
            .iter()
            .filter_map(|shown| match shown {
                Shown::Number(number) => Some(*number),
                _ => None,
            })
            .collect();
        return number_agrees(*claimed, &numbers);
    }
    served.iter().any(|shown| match (claimed, shown) {
        (Shown::Text(claimed), Shown::Text(served)) => is_same_or_cut(claimed, served),
        _ => claimed == shown,
    })
}

/// Gives values in words, each once; of numbers the least and the most.
pub(super) fn list(values: &[Shown]) -> Vec<String> {
    let number = |shown: &Shown| match shown {
        Shown::Number(number) => Some(*number),
        _ => None,
    };
    let numbers: Vec<f64> = values.iter().filter_map(number).collect();
    let mut shown: Vec<String> = match numbers.iter().copied().reduce(f64::min) {
        Some(least) => {
            let most = numbers.iter().copied().fold(least, f64::max);
            vec![show_number(&least), show_number(&most)]
        }
        None => Vec::new(),
    };
    for value in values {
        let value = value.to_string();
        if numbers.is_empty() && !shown.contains(&value) {
            shown.push(value);
        }
    }
    shown.dedup();
    match &shown[..] {
        [least, most] if !numbers.is_empty() => vec![format!("{least} to {most}")],
        _ => shown,
    }
}

/// A small display has no room for a long name (Unicode Standard Annex 15: compared in form NFC).
fn is_same_or_cut(claimed: &str, served: &str) -> bool {
    let served: String = served.nfc().collect();
    let claimed: String = claimed.nfc().collect();
    let begun = claimed.trim_end_matches("...").trim_end_matches('\u{2026}');
    claimed == served || (!begun.is_empty() && served.starts_with(begun))
}

fn value<T: Clone>(claim: &Claim<T>) -> Option<T> {
    match claim {
        Claim::Value(value) => Some(value.clone()),
        Claim::Unknown | Claim::NotReported => None,
    }
}
