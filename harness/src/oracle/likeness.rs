//! What of a claim was true of none of the answers it may rest on.

use coldbed_mock::sim::Truth;

use super::subject::number_agrees;
use crate::watcher::{Claim, PhaseClaim, Sighting};

/// Is a quantity that was claimed and not served.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Unlike {
    /// What was served, in words.
    pub(super) served: String,
    /// What was claimed, in words.
    pub(super) claimed: String,
}

/// Gives the first quantity of a sighting that was true of none of the truths. What the sighting
/// does not report, or calls unknown, is never wrong.
pub(super) fn unlike(sighting: &Sighting, truths: &[&Truth]) -> Option<Unlike> {
    if let Claim::Value(phase) = &sighting.phase {
        let served = truths.iter().map(|truth| truth.phase);
        if !served
            .clone()
            .any(|served| *phase == PhaseClaim::Known(served))
        {
            let mut words: Vec<String> = served.map(|phase| phase.to_string()).collect();
            words.dedup();
            return Some(Unlike {
                served: format!("phase {}", words.join(" or ")),
                claimed: format!("phase {phase}"),
            });
        }
    }
    let jobs = || truths.iter().filter_map(|truth| truth.job.as_ref());
    let of_heaters = sighting.heaters.iter().flat_map(|(name, claims)| {
        let heaters = || truths.iter().filter_map(|truth| truth.heaters.get(name));
        let actual: Vec<f64> = heaters()
            .filter_map(|heater| heater.actual_celsius)
            .collect();
        let target: Vec<f64> = heaters().map(|heater| heater.target_celsius).collect();
        [
            (
                format!("{name} actual-celsius"),
                &claims.actual_celsius,
                actual,
            ),
            (
                format!("{name} target-celsius"),
                &claims.target_celsius,
                target,
            ),
        ]
    });
    let of_job = [
        (
            "progress-percent".to_owned(),
            &sighting.progress_percent,
            jobs().map(|job| job.progress_percent).collect(),
        ),
        (
            "elapsed-seconds".to_owned(),
            &sighting.elapsed_seconds,
            jobs().map(|job| job.elapsed_seconds).collect(),
        ),
        (
            "remaining-seconds".to_owned(),
            &sighting.remaining_seconds,
            jobs().filter_map(|job| job.remaining_seconds).collect(),
        ),
    ];
    of_heaters
        .chain(of_job)
        .find_map(|(name, claim, served)| unlike_number(&name, claim, &served))
}

fn unlike_number(name: &str, claim: &Claim<f64>, served: &[f64]) -> Option<Unlike> {
    let Claim::Value(claimed) = claim else {
        return None;
    };
    if number_agrees(*claimed, served) {
        return None;
    }
    let mut words: Vec<String> = served.iter().map(|number| format!("{number:.1}")).collect();
    words.dedup();
    let served = match words.as_slice() {
        [] => "unknown".to_owned(),
        words => words.join(" or "),
    };
    Some(Unlike {
        served: format!("{name} {served}"),
        claimed: format!("{name} {claimed:.1}"),
    })
}

/// Says what a sighting claims, in the words of a report: its phase, where it has one.
pub(super) fn words(sighting: &Sighting) -> String {
    match &sighting.phase {
        Claim::Value(phase) => format!("phase {phase}"),
        _ => "values shown as live".to_owned(),
    }
}
