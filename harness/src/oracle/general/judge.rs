//! Each quantity: what is claimed of it against what may have been understood.

use std::time::Duration;

use coldbed_mock::sim::{JobTruth, Truth};

use super::Seen;
use super::answers::Told;
use super::misleading::misleads;
use super::places::About;
use crate::oracle::subject::{number_agrees, show_number};
use crate::oracle::words::is_same;
use crate::oracle::{Verdict, Violation};
use crate::watcher::{Claim, HeaterSighting, PhaseClaim, Sighting};

/// So many answers in a row that must have been understood, and no value all along, are no hiccup
/// any more (own choice, as for every value).
const UNKNOWN_FOR: usize = 4;

/// Is one quantity: how to find it in claims and in truths, and when the two agree.
struct Subject<'s, T> {
    about: About,
    name: String,
    claimed: &'s dyn Fn(&Sighting) -> Claim<T>,
    served: &'s dyn Fn(&Truth) -> Option<T>,
    agree: &'s dyn Fn(&T, &[T]) -> bool,
    show: &'s dyn Fn(&T) -> String,
}

/// Verifies each claim of every quantity.
pub(super) fn verify_claims(seen: &Seen<'_, '_>) -> Verdict {
    let mut counted = Vec::new();
    let mut broken = Vec::new();
    let mut take = |verdict: Result<usize, Verdict>| match verdict {
        Ok(judged) => counted.push(judged),
        Err(verdict) => broken.push(verdict),
    };
    take(phase(seen));
    let first = seen.told.first().map(|told| told.truth.heaters.keys());
    for heater in first.into_iter().flatten() {
        take(actual(seen, heater));
        take(target(seen, heater));
        take(on(seen, heater));
    }
    for (about, name, of_job, claimed) in NUMBERS {
        take(number(seen, about, name, *of_job, *claimed));
    }
    take(job_name(seen));
    let judged: usize = counted.iter().sum();
    if !broken.is_empty() {
        return first_of(broken);
    }
    match judged {
        0 => Verdict::NotJudged {
            reason: "nothing was claimed while something was served".to_owned(),
        },
        _ => Verdict::Held {
            note: format!("{judged} claims"),
        },
    }
}

/// Gives what was seen first: what comes after it is mostly the same once more.
fn first_of(broken: Vec<Verdict>) -> Verdict {
    let violations = broken.into_iter().flat_map(|verdict| match verdict {
        Verdict::Violated(violations) => violations,
        _ => Vec::new(),
    });
    let mut violations: Vec<Violation> = violations.collect();
    violations.sort_by_key(|violation| violation.at);
    violations.truncate(SHOWN);
    let earliest = violations.first().map(|violation| violation.at);
    violations.retain(|violation| Some(violation.at) == earliest);
    Verdict::Violated(violations)
}

/// So many wrong values of one moment say enough (own choice).
const SHOWN: usize = 3;

type OfJob = fn(&JobTruth) -> Option<f64>;
type Claimed = fn(&Sighting) -> &Claim<f64>;

const NUMBERS: &[(About, &str, OfJob, Claimed)] = &[
    (
        About::Progress,
        "progress-percent",
        |job| Some(job.progress_percent),
        |sighting| &sighting.progress_percent,
    ),
    (
        About::Elapsed,
        "elapsed-seconds",
        |job| Some(job.elapsed_seconds),
        |sighting| &sighting.elapsed_seconds,
    ),
    (
        About::Remaining,
        "remaining-seconds",
        |job| job.remaining_seconds,
        |sighting| &sighting.remaining_seconds,
    ),
];

fn phase(seen: &Seen<'_, '_>) -> Result<usize, Verdict> {
    let subject = Subject {
        about: About::Phase,
        name: "phase".to_owned(),
        claimed: &|sighting| sighting.phase.clone(),
        served: &|truth| Some(PhaseClaim::Known(truth.phase)),
        agree: &|claimed, served| served.contains(claimed),
        show: &PhaseClaim::to_string,
    };
    subject.verify(seen)
}

fn actual(seen: &Seen<'_, '_>, heater: &str) -> Result<usize, Verdict> {
    heater_number(
        seen,
        About::Actual(heater.to_owned()),
        format!("{heater} actual-celsius"),
        &|sighting| of_heater(sighting, heater, |claims| &claims.actual_celsius),
        &|truth| truth.heaters.get(heater)?.actual_celsius,
    )
}

fn target(seen: &Seen<'_, '_>, heater: &str) -> Result<usize, Verdict> {
    heater_number(
        seen,
        About::Target(heater.to_owned()),
        format!("{heater} target-celsius"),
        &|sighting| of_heater(sighting, heater, |claims| &claims.target_celsius),
        &|truth| Some(truth.heaters.get(heater)?.target_celsius),
    )
}

fn heater_number(
    seen: &Seen<'_, '_>,
    about: About,
    name: String,
    claimed: &dyn Fn(&Sighting) -> Claim<f64>,
    served: &dyn Fn(&Truth) -> Option<f64>,
) -> Result<usize, Verdict> {
    let subject = Subject {
        about,
        name,
        claimed,
        served,
        agree: &|claimed, served| number_agrees(*claimed, served),
        show: &show_number,
    };
    subject.verify(seen)
}

fn on(seen: &Seen<'_, '_>, heater: &str) -> Result<usize, Verdict> {
    let subject = Subject {
        about: About::On(heater.to_owned()),
        name: format!("{heater} on"),
        claimed: &|sighting| of_heater(sighting, heater, |claims| &claims.on),
        served: &|truth| Some(truth.heaters.get(heater)?.on),
        agree: &|claimed, served| served.contains(claimed),
        show: &bool::to_string,
    };
    subject.verify(seen)
}

fn number(
    seen: &Seen<'_, '_>,
    about: &About,
    name: &str,
    of_job: OfJob,
    claimed: Claimed,
) -> Result<usize, Verdict> {
    let subject = Subject {
        about: about.clone(),
        name: name.to_owned(),
        claimed: &|sighting| claimed(sighting).clone(),
        served: &|truth| truth.job.as_ref().and_then(of_job),
        agree: &|claimed, served| number_agrees(*claimed, served),
        show: &show_number,
    };
    subject.verify(seen)
}

fn job_name(seen: &Seen<'_, '_>) -> Result<usize, Verdict> {
    let subject = Subject {
        about: About::JobName,
        name: "job-name".to_owned(),
        claimed: &|sighting| sighting.job_name.clone(),
        served: &|truth| truth.job.as_ref().map(|job| job.name.clone()),
        agree: &|claimed, served| served.iter().any(|name| is_same(claimed, name)),
        show: &|name| format!("`{name}`"),
    };
    subject.verify(seen)
}

fn of_heater<T: Clone>(
    sighting: &Sighting,
    heater: &str,
    claim: fn(&HeaterSighting) -> &Claim<T>,
) -> Claim<T> {
    let heater = sighting.heaters.get(heater);
    heater.map_or(Claim::NotReported, |heater| claim(heater).clone())
}

impl<T> Subject<'_, T> {
    /// Gives how many claims were judged, or the first that was wrong.
    fn verify(&self, seen: &Seen<'_, '_>) -> Result<usize, Verdict> {
        let mut judged = 0;
        for moment in &seen.moments {
            let (at, sighting) = (moment.at, moment.sighting);
            let candidates: Vec<&Told<'_>> = moment
                .candidates
                .iter()
                .map(|index| &seen.told[*index])
                .collect();
            if candidates.is_empty() || self.is_open(seen, &candidates) {
                continue;
            }
            let values = self.values(&candidates);
            match (self.claimed)(sighting) {
                Claim::Value(claimed) if values.is_empty() => {
                    return Err(self.violated(seen, at, "unknown", &(self.show)(&claimed)));
                }
                Claim::Value(claimed) if !(self.agree)(&claimed, &values) => {
                    let allowed = self.list(&values);
                    return Err(self.violated(seen, at, &allowed, &(self.show)(&claimed)));
                }
                Claim::Value(_) => judged += 1,
                Claim::Unknown | Claim::NotReported if self.is_withheld_too_long(seen, at) => {
                    return Err(self.violated(seen, at, &self.list(&values), "unknown"));
                }
                Claim::Unknown | Claim::NotReported => {}
            }
        }
        Ok(judged)
    }

    /// Tells whether any claim may rest on one of the answers.
    fn is_open(&self, seen: &Seen<'_, '_>, candidates: &[&Told<'_>]) -> bool {
        candidates.iter().any(|told| {
            let mut drifts = told.drifts.iter();
            told.says_nothing_new || drifts.any(|drift| misleads(drift, &self.about, &seen.places))
        })
    }

    fn values(&self, answers: &[&Told<'_>]) -> Vec<T> {
        let values = answers.iter().map(|told| (self.served)(told.truth));
        values.flatten().collect()
    }

    /// Tells whether the watcher, which can tell the quantity, does not although it was served well
    /// all along.
    fn is_withheld_too_long(&self, seen: &Seen<'_, '_>, at: Duration) -> bool {
        let until = seen.told.partition_point(|told| told.at <= at);
        let told = &seen.told[..until];
        let run = told.last().map_or(0, |last| last.run);
        let since_first = |from: &Told<'_>| at.saturating_sub(from.at);
        // Several answers may belong to one poll.
        let timing = &seen.trace.timing;
        let long = timing.freshness() + timing.longest_interval;
        let in_a_row = &told[until - run.min(until)..];
        let begun = in_a_row.iter().rposition(|told| since_first(told) >= long);
        let Some(begun) = begun else { return false };
        let recent: Vec<&Told<'_>> = in_a_row[begun..].iter().collect();
        if recent.len() < UNKNOWN_FOR || self.values(&recent).len() < recent.len() {
            return false;
        }
        let is_value = |sighting: &Sighting| matches!((self.claimed)(sighting), Claim::Value(_));
        let mut sightings = seen.trace.sightings.iter();
        let said = sightings
            .clone()
            .any(|(made, sighting)| *made >= recent[0].at && *made <= at && is_value(sighting));
        !said && sightings.any(|(_, sighting)| is_value(sighting))
    }

    fn list(&self, values: &[T]) -> String {
        let mut shown: Vec<String> = values.iter().map(self.show).collect();
        shown.dedup();
        shown.join(" or ")
    }

    fn violated(&self, seen: &Seen<'_, '_>, at: Duration, allowed: &str, claimed: &str) -> Verdict {
        let until = seen.told.partition_point(|told| told.at <= at);
        let last = seen.told[..until].last().map_or(at, |told| told.at);
        let since = at.saturating_sub(last).as_secs_f64();
        Verdict::violated(
            at,
            format!(
                "{} {allowed}, as served until {since:.2} s before",
                self.name
            ),
            format!("{} {claimed}", self.name),
        )
        .about(&seen.about(at))
    }
}
