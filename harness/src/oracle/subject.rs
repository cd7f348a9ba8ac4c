//! One quantity: what is claimed of it against what was served of it.

use std::time::Duration;

use coldbed_mock::sim::Truth;

use super::{Served, Trace, Verdict};
use crate::watcher::{Claim, Sighting};

/// Is one quantity to be judged: how to find it in claims and in truths, and when the two agree.
pub(super) struct Subject<'s, T> {
    pub(super) name: String,
    pub(super) claimed: &'s dyn Fn(&Sighting) -> Claim<T>,
    pub(super) served: &'s dyn Fn(&Truth) -> Option<T>,
    pub(super) agree: &'s dyn Fn(&T, &[T]) -> bool,
    pub(super) show: &'s dyn Fn(&T) -> String,
}

/// So many answers with a value in a row, and the watcher saying all along that it does not know,
/// are no hiccup any more (own choice).
const UNKNOWN_FOR: usize = 4;

impl<T> Subject<'_, T> {
    pub(super) fn verify(&self, trace: &Trace<'_>) -> Verdict {
        // One that the watcher never tells of is not its business.
        let mut sightings = trace.sightings.iter();
        if !sightings.any(|(_, sighting)| (self.claimed)(sighting).is_reported()) {
            return Verdict::NotJudged {
                reason: format!("the watcher does not report {}", self.name),
            };
        }
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

/// Gives the first violation; else what holds, if anything was judged; else why nothing was.
pub(super) fn worst_of(parts: impl IntoIterator<Item = Verdict>) -> Verdict {
    let mut notes = Vec::new();
    let mut unjudged = None;
    for part in parts {
        match part {
            Verdict::Violated(_) => return part,
            Verdict::Held { note } if note.is_empty() => {}
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
pub(super) fn number_agrees(claimed: f64, served: &[f64]) -> bool {
    let least = served.iter().copied().fold(f64::INFINITY, f64::min);
    let most = served.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let is_whole = claimed.fract().abs() < f64::EPSILON;
    let off_by = if is_whole { 1.0 } else { 0.06 };
    claimed > least - off_by && claimed < most + off_by
}

pub(super) fn show_number(number: &f64) -> String {
    format!("{}", (number * 10.0).round() / 10.0)
}
