//! One drift at one place.

use std::time::Duration;

use coldbed_mock::dialect::Quantity;
use coldbed_mock::drift::DriftClass;
use serde_json::Value;

use super::Tried;
use super::shown::{self, Shown};
use crate::event::{Event, EventKind};
use crate::oracle::{Served, Trace, Trial, Verdict};
use crate::watcher::{PhaseClaim, Sighting};

/// Is a trial with the moments that matter.
struct Window<'t, 'a> {
    trace: &'t Trace<'a>,
    tried: &'t Tried,
    raised: Duration,
    cleared: Duration,
    /// What was known before.
    before: &'a Sighting,
}

/// Verifies one trial. `first` is what was known before the first of all trials.
pub(super) fn verify(trial: &Trial<'_>, tried: &Tried, first: Option<&Sighting>) -> Verdict {
    let trace = &trial.trace;
    trace.verify_going_on(trial.events).and_then(|| {
        let at = |wanted: fn(&EventKind) -> bool| {
            let event = trial.events.iter().find(|event| wanted(&event.kind));
            event.map(|event| event.at)
        };
        let raised = at(|kind| matches!(kind, EventKind::DriftRaised { .. }));
        let cleared = at(|kind| matches!(kind, EventKind::DriftCleared));
        let (raised, cleared) = match tried.drifts.is_empty() {
            true => (Some(trial.from), Some(trace.end)),
            false => (raised, cleared),
        };
        let before = match tried.drifts.is_empty() {
            true => first,
            false => trace.standing(trial.from),
        };
        match (raised, cleared, before) {
            (Some(raised), Some(cleared), Some(before)) if !before.says_unknown() => Window {
                trace,
                tried,
                raised,
                cleared,
                before,
            }
            .verify(),
            (Some(_), Some(_), _) => not_judged("the watcher did not know anything before"),
            _ => not_judged("it broke off"),
        }
    })
}

fn not_judged(reason: &str) -> Verdict {
    Verdict::NotJudged {
        reason: reason.to_owned(),
    }
}

impl<'a> Window<'_, 'a> {
    fn verify(&self) -> Verdict {
        if !self.is_met() {
            return not_judged("the watcher asks for no body that has the place");
        }
        let quantities = match self.trace.answers.last() {
            Some(answer) => shown::quantities(answer.truth),
            None => return not_judged("nothing was served"),
        };
        let judged = quantities
            .iter()
            .filter(|quantity| !self.tried.spared.contains(quantity));
        for quantity in judged {
            let verdict = self.verify_quantity(quantity);
            if matches!(verdict, Verdict::Violated(_)) {
                return verdict;
            }
        }
        self.verify_recovery().and_then(|| {
            let last = self.trace.end.min(self.cleared);
            if !self.is_compatible() && !self.tried.is_brief && last < self.deadline() {
                return not_judged("the machine was too slow for an old value to show");
            }
            Verdict::Held {
                note: String::new(),
            }
        })
    }

    fn is_compatible(&self) -> bool {
        self.tried.class == DriftClass::Compatible
    }

    /// Gives when what was true before is no excuse any more: a watcher may try once more before it
    /// withdraws what it cannot read.
    fn deadline(&self) -> Duration {
        let timing = &self.trace.timing;
        match self.is_compatible() {
            true => self.raised + timing.freshness(),
            false => self.raised + timing.freshness() + timing.longest_interval,
        }
    }

    fn verify_quantity(&self, quantity: &Quantity) -> Verdict {
        let mut moments = self.trace.moments();
        moments.push(self.cleared);
        moments.retain(|at| *at >= self.raised);
        moments.sort_unstable();
        for at in moments {
            let Some(claimed) = self
                .trace
                .standing(at)
                .and_then(|sighting| shown::claimed(quantity, sighting))
            else {
                continue;
            };
            let served = values(quantity, self.candidates(at));
            if !self.is_right(&claimed, &served) {
                return self.wrong(quantity, at, &claimed, &served);
            }
        }
        self.verify_known(quantity)
    }

    /// Gives the answers that a claim may rest on.
    fn candidates(&self, at: Duration) -> &[Served<'a>] {
        let candidates = self.trace.candidates(at);
        if self.is_compatible() || at >= self.deadline() {
            return candidates;
        }
        let answers = &self.trace.answers;
        let from = self.raised.saturating_sub(self.trace.timing.freshness());
        let from = answers.partition_point(|answer| answer.at < from);
        let until = answers.partition_point(|answer| answer.at <= at);
        &answers[from.min(until.saturating_sub(2))..until]
    }

    fn is_right(&self, claimed: &Shown, served: &[Shown]) -> bool {
        let also = |phase| *claimed == Shown::Phase(PhaseClaim::Known(phase));
        // With nothing served there is nothing to hold it against: only the very first claims.
        shown::agrees(claimed, served) || self.tried.also.iter().copied().any(also)
    }

    fn wrong(
        &self,
        quantity: &Quantity,
        at: Duration,
        claimed: &Shown,
        served: &[Shown],
    ) -> Verdict {
        let name = shown::name(quantity);
        let mut allowed = shown::list(served);
        if allowed.is_empty() || !self.is_compatible() {
            allowed.push("unknown".to_owned());
        }
        let until = self
            .trace
            .answers
            .partition_point(|answer| answer.at <= self.raised);
        let old = &self.trace.answers[..until];
        let is_old = shown::agrees(claimed, &values(quantity, &old[until.saturating_sub(1)..]));
        let since = match is_old {
            true => ", as it was before the change",
            false => "",
        };
        Verdict::violated(
            at,
            format!("{name} {}", allowed.join(" or ")),
            format!("{name} {claimed}{since}"),
        )
    }

    /// Verifies that what was known before is known under a compatible drift, too.
    fn verify_known(&self, quantity: &Quantity) -> Verdict {
        let held = Verdict::Held {
            note: String::new(),
        };
        if !self.is_compatible() || shown::claimed(quantity, self.before).is_none() {
            return held;
        }
        let during = |at: &Duration| *at > self.raised && *at <= self.cleared;
        let served: Vec<&Served<'_>> = self
            .trace
            .answers
            .iter()
            .filter(|answer| during(&answer.at))
            .collect();
        let values: Vec<Shown> = served
            .iter()
            .filter_map(|answer| shown::served(quantity, answer.truth))
            .collect();
        // A claim that was on its way when the drift came tells of what was before.
        let is_of_now = |sighting: &Sighting| {
            shown::claimed(quantity, sighting).is_some_and(|shown| shown::agrees(&shown, &values))
        };
        let mut sightings = self.trace.sightings.iter();
        let is_said = sightings.any(|(at, sighting)| during(at) && is_of_now(sighting));
        let known = values.last();
        match known {
            // Two answers may be lost to a hiccup.
            Some(known) if !is_said && served.len() >= 3 => Verdict::violated(
                self.cleared,
                format!("{} {known}", shown::name(quantity)),
                format!("unknown over {} answers", served.len()),
            ),
            _ => held,
        }
    }

    /// Verifies that the watcher knows again when the drift is over.
    fn verify_recovery(&self) -> Verdict {
        let knows = |at| {
            let standing = self.trace.standing(at);
            standing.is_some_and(|sighting| !sighting.says_unknown())
        };
        let mut after = self.trace.sightings.iter();
        let is_back = knows(self.trace.end)
            || after.any(|(at, sighting)| *at > self.cleared && !sighting.says_unknown());
        if is_back || self.tried.drifts.is_empty() {
            return Verdict::Held {
                note: String::new(),
            };
        }
        let patience = self
            .trace
            .timing
            .recovery_within(self.cleared - self.raised);
        let waited = self.trace.end.saturating_sub(self.cleared);
        let answers = self.trace.answers.iter();
        let answers = answers.filter(|answer| answer.at > self.cleared).count();
        if answers >= 2 || waited >= patience {
            let seconds = waited.as_secs_f64();
            return Verdict::violated(
                self.trace.end,
                format!(
                    "live again within {:.1} s of the change's end",
                    patience.as_secs_f64()
                ),
                format!("unknown after {seconds:.1} s and {answers} good answers"),
            );
        }
        not_judged("it ended too soon to see whether the watcher comes back")
    }

    /// Tells whether a drift fits a body that the watcher asks for, as far as that can be seen.
    fn is_met(&self) -> bool {
        if self.tried.drifts.is_empty() {
            return true;
        }
        let bodies: Vec<Value> = self
            .trace
            .events
            .iter()
            .rev()
            .filter(|event| event.at <= self.raised)
            .filter_map(body)
            .take(LOOKED_AT)
            .collect();
        let fits = |body: &Value| {
            self.tried
                .drifts
                .iter()
                .any(|drift| drift.fits(body).is_ok())
        };
        // What is no JSON, such as a stream, cannot be looked into.
        bodies.is_empty() || bodies.iter().any(fits)
    }
}

/// So many bodies before the drift are looked at: more than anybody asks for in one poll.
const LOOKED_AT: usize = 16;

fn body(event: &Event) -> Option<Value> {
    match &event.kind {
        EventKind::Answer {
            status: 200, body, ..
        } => serde_json::from_slice(body).ok(),
        _ => None,
    }
}

fn values(quantity: &Quantity, answers: &[Served<'_>]) -> Vec<Shown> {
    answers
        .iter()
        .filter_map(|answer| shown::served(quantity, answer.truth))
        .collect()
}
