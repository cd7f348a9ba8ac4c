//! One oracle for any run in which faults and drifts come and go.
//!
//! It knows no plan. What was usable follows from the answers, from the faults that had a part in
//! them, and from what was in force when they were made; where that leaves a doubt, the watcher has
//! the benefit of it:
//!
//! - **Claims** are true of some answer that may have arrived within the allowed window, or unknown.
//!   A late answer widens the window until its arrival.
//! - **Old data does not stand**: where no usable answer came for too long, the watcher says unknown.
//! - **While bodies are drifted** a claim is right, by the truth behind the body, or unknown. What a
//!   body says wrongly in the usual place and form, as after a change of unit, no reader can tell: of
//!   such quantities nothing is judged while it lasts. A compatible drift excuses nothing.
//! - **Nothing is asked** of a host that shows a certificate that is no good.
//! - **Afterwards** the watcher is right again within the allowed time, and it lives.
//!
//! What it does not judge: whether the rest is still told while one value cannot be read (a strict
//! reader that gives up on the whole body says that it does not know, which is true), push streams
//! that are silent because nothing changes, and a host that speaks another version by then.

mod answers;
mod judge;
mod misleading;
mod places;
#[cfg(test)]
mod tests;
mod troubles;

use std::time::Duration;

use coldbed_mock::dialect::Dialect;

use super::secrecy::verify_turned_down;
use super::{Trace, Verdict};
use crate::event::EventKind;
use crate::watcher::{Claim, Sighting};

use answers::Told;
use judge::verify_claims;
use places::Places;
use troubles::Span;

pub(crate) use troubles::{calm, has_recovered};

/// Is a run as this oracle reads it.
struct Seen<'t, 'e> {
    trace: &'t Trace<'e>,
    /// What was wrong, and when.
    spans: Vec<Span>,
    /// The answers that may have been understood, in order.
    told: Vec<Told<'e>>,
    /// Where the dialect shows what.
    places: Places,
    /// The moments at which what stands is looked at.
    moments: Vec<Moment<'t>>,
}

/// Is a moment at which what stands is looked at.
struct Moment<'t> {
    at: Duration,
    /// What stands.
    sighting: &'t Sighting,
    /// The answers that it may rest on, as places in the list of all.
    candidates: Vec<usize>,
}

/// Verifies every claim of a run with troubles, that old data does not stand, and that the watcher
/// recovers and lives.
pub fn verify_general(trace: &Trace<'_>, dialect: &Dialect) -> Verdict {
    let spans = troubles::spans(trace.events);
    let told = answers::told(trace, &spans, dialect);
    let mut seen = Seen {
        places: Places::of(dialect, &told, &spans),
        trace,
        spans,
        told,
        moments: Vec::new(),
    };
    seen.moments = seen.moments();
    trace.verify_alive().and_then(|| {
        let certificates = match verify_turned_down(trace.events) {
            broken @ Verdict::Violated(_) => Some(broken),
            _ => None,
        };
        let parts = [
            seen.verify_old_data_falls(),
            verify_claims(&seen),
            seen.verify_recovery(),
        ];
        match Verdict::all(certificates.into_iter().chain(parts)) {
            Verdict::Held { note } => Verdict::Held {
                note: match seen.spans.len() {
                    1 => format!("{note}, 1 trouble"),
                    count => format!("{note}, {count} troubles"),
                },
            },
            other => other,
        }
    })
}

impl<'t> Seen<'t, '_> {
    /// How old the last usable answer may be when the watcher still shows it: the failure shows at
    /// the next poll, and from then on it has the time that any outage has.
    fn stale_after(&self) -> Duration {
        self.trace.timing.longest_interval + self.trace.timing.unknown_within()
    }

    /// Gives when the last usable answer had arrived at the latest, of those that went out until a
    /// moment.
    fn last_arrival(&self, at: Duration) -> Option<Duration> {
        let until = self.told.partition_point(|told| told.at <= at);
        self.told[..until].iter().map(|told| told.arrives).max()
    }

    /// Gives the moments at which something stands.
    fn moments(&self) -> Vec<Moment<'t>> {
        let made = self.trace.sightings.iter().map(|(at, _)| *at);
        let due = self.told.iter().flat_map(|told| {
            let stale = told.arrives + self.stale_after() + Duration::from_millis(1);
            [told.at + self.trace.timing.freshness(), stale]
        });
        let mut moments: Vec<Duration> = made
            .chain(due)
            .chain([self.trace.end])
            .filter(|at| *at <= self.trace.end)
            .collect();
        moments.sort_unstable();
        moments.dedup();
        let moment = |at: Duration| {
            Some(Moment {
                at,
                sighting: self.trace.standing(at)?,
                candidates: self.candidates(at),
            })
        };
        moments.into_iter().filter_map(moment).collect()
    }

    /// Gives the answers that a claim standing at a moment may rest on: all that may have arrived
    /// within the allowed window, and in any case the last two that are not too old to stand.
    fn candidates(&self, at: Duration) -> Vec<usize> {
        let until = self.told.partition_point(|told| told.at <= at);
        let freshness = self.trace.timing.freshness();
        let last_two = until.saturating_sub(2);
        let is_candidate = |index: &usize| {
            let allowed = match *index >= last_two {
                true => self.stale_after(),
                false => freshness,
            };
            self.told[*index].arrives.saturating_add(allowed) >= at
        };
        (0..until).filter(is_candidate).collect()
    }

    fn verify_old_data_falls(&self) -> Verdict {
        let held = Verdict::Held {
            note: String::new(),
        };
        // A stream says nothing while nothing changes, and what it said stands.
        let is_pushed = |kind: &EventKind| matches!(kind, EventKind::Pushed { .. });
        if self.trace.events.iter().any(|event| is_pushed(&event.kind)) {
            return held;
        }
        for Moment { at, sighting, .. } in &self.moments {
            let at = *at;
            let Some(last) = self.last_arrival(at) else {
                continue;
            };
            let age = at.saturating_sub(last);
            if age > self.stale_after() && !sighting.says_unknown() {
                let within = self.stale_after().as_secs_f64();
                return Verdict::violated(
                    at,
                    format!("unknown within {within:.1} s of the last usable answer"),
                    format!("{} {:.1} s after it", shown(sighting), age.as_secs_f64()),
                )
                .about(&self.about(at));
            }
        }
        held
    }

    fn verify_recovery(&self) -> Verdict {
        let held = Verdict::Held {
            note: String::new(),
        };
        let Some(calm) = calm(self.trace.events, &self.trace.timing) else {
            return held;
        };
        let due = calm.since + calm.recovery_within;
        let is_doubtful = self
            .told
            .last()
            .is_some_and(|told| told.at > calm.since && (!told.is_sure || told.says_nothing_new));
        if due > self.trace.end || is_doubtful {
            return held;
        }
        let mut since = self.trace.sightings.iter();
        let spoke_again =
            since.any(|(at, sighting)| *at > calm.since && *at <= due && !sighting.says_unknown());
        let stands = self.trace.standing(calm.since);
        if spoke_again || stands.is_some_and(|sighting| !sighting.says_unknown()) {
            return held;
        }
        let observed = match self.trace.standing(due) {
            Some(_) => "still unknown".to_owned(),
            None => "no claim at all".to_owned(),
        };
        let within = calm.recovery_within.as_secs_f64();
        let allowed = format!("live again within {within:.1} s of the end of the troubles");
        Verdict::violated(due, allowed, observed).about(&self.about(calm.since))
    }

    /// Says what was wrong at a moment, or last.
    fn about(&self, at: Duration) -> String {
        let covering = self
            .spans
            .iter()
            .filter(|span| span.covers(at, Duration::ZERO));
        let words: Vec<String> = covering.map(Span::words).collect();
        if !words.is_empty() {
            return words.join("; ");
        }
        let before = self
            .spans
            .iter()
            .filter(|span| span.ended.is_some_and(|end| end <= at));
        match before.max_by_key(|span| span.ended) {
            Some(last) => format!("after {}", last.words()),
            None => "before anything went wrong".to_owned(),
        }
    }
}

fn shown(sighting: &Sighting) -> String {
    match &sighting.phase {
        Claim::Value(phase) => format!("phase {phase}"),
        _ => "values shown as live".to_owned(),
    }
}
