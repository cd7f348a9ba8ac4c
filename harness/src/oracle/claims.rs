//! Claims against the answers they may rest on.

use coldbed_mock::sim::{HeaterTruth, JobTruth};

use super::subject::{Subject, number_agrees, show_number, worst_of};
use super::{Trace, Verdict};
use crate::watcher::{Claim, HeaterSighting, PhaseClaim, Sighting};

/// Names a number of the job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Progress, percent.
    Progress,
    /// Elapsed time, s.
    Elapsed,
    /// Remaining time, s.
    Remaining,
}

impl Quantity {
    fn word(self) -> &'static str {
        match self {
            Self::Progress => "progress-percent",
            Self::Elapsed => "elapsed-seconds",
            Self::Remaining => "remaining-seconds",
        }
    }

    fn of_job(self, job: &JobTruth) -> Option<f64> {
        match self {
            Self::Progress => Some(job.progress_percent),
            Self::Elapsed => Some(job.elapsed_seconds),
            Self::Remaining => job.remaining_seconds,
        }
    }

    fn claimed(self, sighting: &Sighting) -> Claim<f64> {
        match self {
            Self::Progress => sighting.progress_percent.clone(),
            Self::Elapsed => sighting.elapsed_seconds.clone(),
            Self::Remaining => sighting.remaining_seconds.clone(),
        }
    }
}

/// Verifies that the phase claimed is one that was served within the allowed window.
pub fn verify_phases(trace: &Trace<'_>) -> Verdict {
    let subject = Subject {
        name: "phase".to_owned(),
        claimed: &|sighting| sighting.phase.clone(),
        served: &|truth| Some(PhaseClaim::Known(truth.phase)),
        agree: &|claimed, served| served.contains(claimed),
        show: &PhaseClaim::to_string,
    };
    trace.verify_alive().and_then(|| subject.verify(trace))
}

/// Verifies that a number of the job is the one served, or unknown where that is unknown.
pub fn verify_number(trace: &Trace<'_>, quantity: Quantity) -> Verdict {
    let subject = Subject {
        name: quantity.word().to_owned(),
        claimed: &|sighting| quantity.claimed(sighting),
        served: &|truth| truth.job.as_ref().and_then(|job| quantity.of_job(job)),
        agree: &|claimed, served| number_agrees(*claimed, served),
        show: &show_number,
    };
    trace.verify_alive().and_then(|| subject.verify(trace))
}

/// Verifies that nothing is claimed of the time left while the printer itself does not know it.
pub fn verify_unknown_stays_unknown(trace: &Trace<'_>) -> Verdict {
    let owed = trace
        .answers
        .iter()
        .filter(|answer| {
            answer
                .truth
                .job
                .as_ref()
                .is_some_and(|job| job.remaining_seconds.is_none())
        })
        .count();
    verify_number(trace, Quantity::Remaining).and_then(|| Verdict::Held {
        note: format!("{owed} answers without a time left, no number claimed for them"),
    })
}

/// Verifies each heater's actual temperature, heater by heater, by name.
pub fn verify_actual_temperatures(trace: &Trace<'_>) -> Verdict {
    verify_heater_numbers(
        trace,
        "actual-celsius",
        |claims| &claims.actual_celsius,
        |truth| truth.actual_celsius,
    )
}

/// Verifies each heater's target, heater by heater, by name.
pub fn verify_target_temperatures(trace: &Trace<'_>) -> Verdict {
    verify_heater_numbers(
        trace,
        "target-celsius",
        |claims| &claims.target_celsius,
        |truth| Some(truth.target_celsius),
    )
}

/// Verifies that a heater is called on exactly while its target is above zero.
pub fn verify_on(trace: &Trace<'_>) -> Verdict {
    verify_each_heater(trace, |name| {
        Subject {
            name: format!("{name} on"),
            claimed: &|sighting| {
                let heater = sighting.heaters.get(name);
                heater.map_or(Claim::NotReported, |heater| heater.on.clone())
            },
            served: &|truth| truth.heaters.get(name).map(|heater| heater.on),
            agree: &|claimed, served| served.contains(claimed),
            show: &bool::to_string,
        }
        .verify(trace)
    })
}

/// Verifies the numbers of the job: progress, elapsed and remaining time.
pub fn verify_job_numbers(trace: &Trace<'_>) -> Verdict {
    worst_of([
        verify_number(trace, Quantity::Progress),
        verify_number(trace, Quantity::Elapsed),
        verify_number(trace, Quantity::Remaining),
    ])
}

/// Verifies all that is claimed of heaters, and that nothing is claimed of one that is not there.
pub fn verify_heaters(trace: &Trace<'_>) -> Verdict {
    worst_of([
        verify_no_other_heater(trace),
        verify_actual_temperatures(trace),
        verify_target_temperatures(trace),
        verify_on(trace),
    ])
}

/// Verifies all that is claimed of heaters, and that the phase is still told.
pub fn verify_heaters_and_phases(trace: &Trace<'_>) -> Verdict {
    worst_of([verify_heaters(trace), verify_phases(trace)])
}

/// The heaters of the printer that a watcher is measured on: it knows how to name them.
const NAMED: [&str; 2] = ["extruder", "platform"];

fn verify_no_other_heater(trace: &Trace<'_>) -> Verdict {
    let Some(first) = trace.answers.first() else {
        return Verdict::NotJudged {
            reason: "nothing was served".to_owned(),
        };
    };
    let is_missing = |name: &str| NAMED.contains(&name) && !first.truth.heaters.contains_key(name);
    for (at, sighting) in &trace.sightings {
        for (name, heater) in sighting.heaters.iter().filter(|(name, _)| is_missing(name)) {
            let shown = [&heater.actual_celsius, &heater.target_celsius]
                .into_iter()
                .find_map(|claim| match claim {
                    Claim::Value(celsius) => Some(show_number(celsius)),
                    _ => None,
                });
            if let Some(shown) = shown {
                let allowed = format!("no number for {name}, which this printer does not have");
                return Verdict::violated(*at, allowed, format!("{name} {shown}"));
            }
        }
    }
    Verdict::Held {
        note: String::new(),
    }
}

/// Verifies every claim that the watcher makes: phase, temperatures, targets, on, numbers.
pub fn verify_all_claims(trace: &Trace<'_>) -> Verdict {
    let parts = [
        verify_phases(trace),
        verify_actual_temperatures(trace),
        verify_target_temperatures(trace),
        verify_on(trace),
        verify_number(trace, Quantity::Progress),
        verify_number(trace, Quantity::Elapsed),
        verify_number(trace, Quantity::Remaining),
    ];
    worst_of(parts)
}

fn verify_each_heater(trace: &Trace<'_>, verify: impl Fn(&str) -> Verdict) -> Verdict {
    let names = trace
        .answers
        .first()
        .map(|answer| answer.truth.heaters.keys());
    trace
        .verify_alive()
        .and_then(|| worst_of(names.into_iter().flatten().map(|name| verify(name))))
}

fn verify_heater_numbers(
    trace: &Trace<'_>,
    what: &str,
    claimed: fn(&HeaterSighting) -> &Claim<f64>,
    served: fn(&HeaterTruth) -> Option<f64>,
) -> Verdict {
    verify_each_heater(trace, |name| {
        Subject {
            name: format!("{name} {what}"),
            claimed: &|sighting| {
                let heater = sighting.heaters.get(name);
                heater.map_or(Claim::NotReported, |heater| claimed(heater).clone())
            },
            served: &|truth| truth.heaters.get(name).and_then(served),
            agree: &|claimed, served| number_agrees(*claimed, served),
            show: &show_number,
        }
        .verify(trace)
    })
}
