//! Claims against the answers of a recorded session.
//!
//! What is true there is nobody's: an answer is held to say what the dialect reads in it, or what the
//! user expects of it.

mod hears;
mod subject;
#[cfg(test)]
mod tests;

use coldbed_mock::dialect::{Quantity, Told};
use coldbed_mock::sim::Phase;
use serde_json::Value;

pub(crate) use hears::Hears;

use self::subject::Subject;
use super::subject::{show_number, worst_of};
use super::{Trace, Verdict};
use crate::watcher::{Claim, HeaterSighting, PhaseClaim, Sighting};

/// Verifies that the watcher goes on asking to the session's end, does not end by itself, and claims
/// something.
pub fn verify_followed(trace: &Trace<'_>) -> Verdict {
    trace.verify_going_on(trace.events).and_then(|| {
        let hears = Hears::of(trace);
        let usable = hears.usable().count();
        if hears.sightings.is_empty() && usable >= 3 {
            let observed = format!("none after {usable} of them");
            return Verdict::violated(trace.end, "a claim once there are answers", observed);
        }
        Verdict::Held {
            note: format!("{} answers, {usable} of them usable", hears.heard.len()),
        }
    })
}

/// Verifies that the phase claimed is one that the answers show.
pub fn verify_recorded_phases(trace: &Trace<'_>) -> Verdict {
    let subject = Subject {
        name: "phase".to_owned(),
        claimed: &|sighting| sighting.phase.clone(),
        told: &|heard| heard.phase().cloned(),
        agree: &|claimed: &PhaseClaim, told: &[(Vec<Phase>, f64)]| match claimed {
            PhaseClaim::Known(phase) => told.iter().any(|(phases, _)| phases.contains(phase)),
            PhaseClaim::Other(_) => false,
        },
        show_claim: &PhaseClaim::to_string,
        show_told: &|(phases, _)| {
            let words: Vec<&str> = phases.iter().map(|phase| phase.word()).collect();
            words.join(" or ")
        },
    };
    subject.verify(&Hears::of(trace))
}

/// Verifies what is claimed of each heater that the answers tell of, by name.
pub fn verify_recorded_heaters(trace: &Trace<'_>) -> Verdict {
    let hears = Hears::of(trace);
    let each = hears.heaters().into_iter().map(|name| {
        let number = |what: &str, quantity, claimed: fn(&HeaterSighting) -> &Claim<f64>| {
            let of_heater = |sighting: &Sighting| {
                let heater = sighting.heaters.get(&name);
                heater.map_or(Claim::NotReported, |heater| claimed(heater).clone())
            };
            verify_number(&hears, format!("{name} {what}"), &quantity, &of_heater)
        };
        worst_of([
            number("actual-celsius", Quantity::Actual(name.clone()), |heater| {
                &heater.actual_celsius
            }),
            number("target-celsius", Quantity::Target(name.clone()), |heater| {
                &heater.target_celsius
            }),
            verify_value(
                &hears,
                format!("{name} on"),
                &Quantity::On(name.clone()),
                &|sighting| {
                    let heater = sighting.heaters.get(&name);
                    heater.map_or(Claim::NotReported, |heater| heater.on.clone())
                },
            ),
        ])
    });
    or_nothing(each.collect(), "no answer says anything of a heater")
}

/// Verifies what is claimed of the job: progress, elapsed and remaining time, its name.
pub fn verify_recorded_job(trace: &Trace<'_>) -> Verdict {
    let hears = Hears::of(trace);
    let number = |what: &str, quantity, claimed: &dyn Fn(&Sighting) -> Claim<f64>| {
        verify_number(&hears, what.to_owned(), &quantity, claimed)
    };
    worst_of([
        number("progress-percent", Quantity::Progress, &|sighting| {
            sighting.progress_percent.clone()
        }),
        number("elapsed-seconds", Quantity::Elapsed, &|sighting| {
            sighting.elapsed_seconds.clone()
        }),
        number("remaining-seconds", Quantity::Remaining, &|sighting| {
            sighting.remaining_seconds.clone()
        }),
        verify_value(
            &hears,
            "job-name".to_owned(),
            &Quantity::JobName,
            &|sighting| sighting.job_name.clone(),
        ),
    ])
}

/// Verifies that nothing is claimed any more once the last usable answer is too old.
pub fn verify_old_data_falls(trace: &Trace<'_>) -> Verdict {
    let hears = Hears::of(trace);
    let usable: Vec<_> = hears
        .usable()
        .map(|(at, heard)| (*at, heard.recorded))
        .collect();
    let Some((first, _)) = usable.first() else {
        return Verdict::NotJudged {
            reason: "no answer is usable, so that nothing could be shown as live".to_owned(),
        };
    };
    // As late as a failure may be noticed after the poll that meets it.
    let allowed = trace.timing.longest_interval + trace.timing.unknown_within();
    let mut outages = 0;
    let mut moments = hears.moments();
    moments.extend(usable.iter().map(|(at, _)| *at + allowed));
    moments.retain(|at| *at >= *first && *at <= trace.end);
    moments.sort_unstable();
    for at in moments {
        let until = usable.partition_point(|(made, _)| *made <= at);
        let (last, recorded) = usable[until - 1];
        let Some(since) = hears.unusable_since(last, at) else {
            continue;
        };
        if at.saturating_sub(last) < allowed {
            continue;
        }
        outages += 1;
        if hears
            .standing(at)
            .is_some_and(|sighting| !sighting.says_unknown())
        {
            let observed = format!(
                "it still claims what exchange {recorded} said, {:.1} s before",
                at.saturating_sub(last).as_secs_f64()
            );
            let allowed = format!(
                "unknown within {:.1} s after the last usable answer ({since})",
                allowed.as_secs_f64()
            );
            return Verdict::violated(at, allowed, observed);
        }
    }
    match outages {
        0 => Verdict::NotJudged {
            reason: "the session is never without a usable answer for long enough".to_owned(),
        },
        _ => Verdict::Held {
            note: format!("unknown after at most {:.1} s", allowed.as_secs_f64()),
        },
    }
}

fn or_nothing(parts: Vec<Verdict>, reason: &str) -> Verdict {
    match parts.is_empty() {
        true => Verdict::NotJudged {
            reason: reason.to_owned(),
        },
        false => worst_of(parts),
    }
}

fn verify_number(
    hears: &Hears<'_>,
    name: String,
    quantity: &Quantity,
    claimed: &dyn Fn(&Sighting) -> Claim<f64>,
) -> Verdict {
    let subject = Subject {
        name,
        claimed,
        told: &|heard| heard.number(quantity).cloned(),
        agree: &|claimed, told| agrees(*claimed, told),
        show_claim: &show_number,
        show_told: &|(number, slack)| match *slack > 0.5 {
            true => format!(
                "{} to {}",
                show_number(&(number - slack)),
                show_number(&(number + slack))
            ),
            false => show_number(number),
        },
    };
    subject.verify(hears)
}

fn verify_value<T: Clone + PartialEq + std::fmt::Display>(
    hears: &Hears<'_>,
    name: String,
    quantity: &Quantity,
    claimed: &dyn Fn(&Sighting) -> Claim<T>,
) -> Verdict
where
    Value: PartialEq<T>,
{
    let subject = Subject {
        name,
        claimed,
        told: &|heard| -> Option<Told<Value>> { heard.value(quantity).cloned() },
        agree: &|claimed: &T, told: &[(Value, f64)]| told.iter().any(|(value, _)| value == claimed),
        show_claim: &T::to_string,
        show_told: &|(value, _)| value.to_string(),
    };
    subject.verify(hears)
}

/// Tells whether a claimed number lies among those told: a quantity that moves passes through all
/// between them. A whole number may be one of them cut or rounded; else only what the form on the wire
/// and a watcher's own rounding to 0.1 take off.
fn agrees(claimed: f64, told: &[(f64, f64)]) -> bool {
    let least = told.iter().map(|(number, slack)| number - slack);
    let most = told.iter().map(|(number, slack)| number + slack);
    let least = least.fold(f64::INFINITY, f64::min);
    let most = most.fold(f64::NEG_INFINITY, f64::max);
    let is_whole = claimed.fract().abs() < f64::EPSILON;
    let off_by = if is_whole { 1.0 } else { 0.06 };
    claimed > least - off_by && claimed < most + off_by
}
