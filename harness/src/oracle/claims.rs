//! Claims against the answers they may rest on.

use std::time::Duration;

use coldbed_mock::sim::{HeaterTruth, JobTruth, Truth};

use super::{Served, Trace, Verdict};
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

/// Is one quantity to be judged: how to find it in claims and in truths, and when the two agree.
struct Subject<'s, T> {
    name: String,
    claimed: &'s dyn Fn(&Sighting) -> Claim<T>,
    served: &'s dyn Fn(&Truth) -> Option<T>,
    agree: &'s dyn Fn(&T, &[T]) -> bool,
    show: &'s dyn Fn(&T) -> String,
}

/// So many answers with a value in a row, and the watcher saying all along that it does not know,
/// are no hiccup any more (own choice).
const UNKNOWN_FOR: usize = 4;

impl<T> Subject<'_, T> {
    fn verify(&self, trace: &Trace<'_>) -> Verdict {
        let mut judged = 0_usize;
        for at in trace.moments() {
            let candidates = trace.candidates(at);
            let (Some(sighting), false) = (trace.standing(at), candidates.is_empty()) else {
                continue;
            };
            let values: Vec<T> = self.values(candidates);
            match (self.claimed)(sighting) {
                Claim::Value(claimed) if values.is_empty() => {
                    return self.violated(at, "unknown", &(self.show)(&claimed), candidates);
                }
                Claim::Value(claimed) if !(self.agree)(&claimed, &values) => {
                    let allowed = self.list(&values);
                    return self.violated(at, &allowed, &(self.show)(&claimed), candidates);
                }
                Claim::Value(_) => judged += 1,
                Claim::Unknown | Claim::NotReported => {
                    if self.is_unknown_too_long(trace, at) {
                        let allowed = self.list(&values);
                        return self.violated(at, &allowed, "unknown", candidates);
                    }
                }
            }
        }
        if judged == 0 {
            return Verdict::NotJudged {
                reason: format!("the watcher claimed no {} while it was served", self.name),
            };
        }
        Verdict::Held {
            note: format!("{judged} claims of {}", self.name),
        }
    }

    fn values(&self, answers: &[Served<'_>]) -> Vec<T> {
        answers
            .iter()
            .filter_map(|answer| (self.served)(answer.truth))
            .collect()
    }

    fn is_unknown_too_long(&self, trace: &Trace<'_>, at: Duration) -> bool {
        let until = trace.answers.partition_point(|answer| answer.at <= at);
        let Some(from) = until.checked_sub(UNKNOWN_FOR) else {
            return false;
        };
        let recent = &trace.answers[from..until];
        let all_known = self.values(recent).len() == UNKNOWN_FOR;
        let is_value = |sighting: &Sighting| matches!((self.claimed)(sighting), Claim::Value(_));
        let said = trace
            .sightings
            .iter()
            .any(|(made, sighting)| *made >= recent[0].at && *made <= at && is_value(sighting));
        all_known && !said
    }

    fn list(&self, values: &[T]) -> String {
        let mut shown: Vec<String> = values.iter().map(self.show).collect();
        shown.dedup();
        shown.join(" or ")
    }

    fn violated(
        &self,
        at: Duration,
        allowed: &str,
        claimed: &str,
        candidates: &[Served<'_>],
    ) -> Verdict {
        let served_at = candidates.last().map_or(at, |answer| answer.at);
        let since = at.saturating_sub(served_at).as_secs_f64();
        Verdict::violated(
            at,
            format!(
                "{} {allowed}, as served until {since:.2} s before",
                self.name
            ),
            format!("{} {claimed}", self.name),
        )
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

/// Gives the first violation; else what holds, if anything was judged; else why nothing was.
fn worst_of(parts: impl IntoIterator<Item = Verdict>) -> Verdict {
    let mut notes = Vec::new();
    let mut unjudged = None;
    for part in parts {
        match part {
            Verdict::Violated(_) => return part,
            Verdict::Held { note } => notes.push(note),
            Verdict::NotJudged { .. } => unjudged = Some(part),
        }
    }
    match unjudged {
        Some(unjudged) if notes.is_empty() => unjudged,
        _ => Verdict::Held {
            note: notes.join(", "),
        },
    }
}

/// Tells whether a claimed number lies among those served.
///
/// Any value between the smallest and the largest served in the window agrees: a quantity that
/// moves passes through them. A whole number may be the served one cut or rounded, so it may be off
/// by less than 1; one with decimals only by what the wire's own rounding to 0.1 takes off.
fn number_agrees(claimed: f64, served: &[f64]) -> bool {
    let least = served.iter().copied().fold(f64::INFINITY, f64::min);
    let most = served.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let is_whole = claimed.fract().abs() < f64::EPSILON;
    let off_by = if is_whole { 1.0 } else { 0.06 };
    claimed > least - off_by && claimed < most + off_by
}

fn show_number(number: &f64) -> String {
    format!("{}", (number * 10.0).round() / 10.0)
}
