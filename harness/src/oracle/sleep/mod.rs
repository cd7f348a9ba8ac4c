//! Watchers that slept: their process was stopped and went on.

use std::time::Duration;

use coldbed_mock::sim::{Phase, Truth};

use crate::event::EventKind;
use crate::oracle::likeness::{unlike, words};
use crate::oracle::{Trace, Verdict};
use crate::watcher::{Claim, PhaseClaim, Sighting};

/// Says what may be shown of an answer that was under way when the watcher was stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnderWay {
    /// It may be shown until the next is due: the watcher was stopped between reading and showing.
    Shown,
    /// It is old as well, and a careful watcher asks how long it has waited.
    Old,
}

/// Verifies that after its last sleep a watcher claims nothing but what it was told since, says
/// unknown as long as it is told nothing, and is live again in time.
pub fn verify_waking(trace: &Trace<'_>, under_way: UnderWay) -> Verdict {
    trace.verify_alive().and_then(|| {
        let Some(nap) = Nap::last_of(trace) else {
            return Verdict::NotJudged {
                reason: "the watcher is no process that could be stopped".to_owned(),
            };
        };
        if trace
            .standing(nap.asleep)
            .is_none_or(Sighting::says_unknown)
        {
            return Verdict::violated(
                nap.asleep,
                "a phase before it sleeps",
                "unknown, or no claim at all",
            );
        }
        nap.only_new_claims(trace, under_way)
            .and_then(|| nap.live_again(trace))
    })
}

/// Verifies that a print which came to its end while the watcher slept is told as finished in time
/// after its waking.
pub fn verify_finish_after_waking(trace: &Trace<'_>) -> Verdict {
    verify_waking(trace, UnderWay::Shown).and_then(|| {
        let Some(nap) = Nap::last_of(trace) else {
            return Verdict::NotJudged {
                reason: String::new(),
            };
        };
        let finished = Claim::Value(PhaseClaim::Known(Phase::Finished));
        let mut claims = trace.sightings.iter();
        let told = claims.find(|(at, claim)| *at > nap.awake && claim.phase == finished);
        let within = trace.timing.awake_within();
        let allowed = format!(
            "phase finished within {:.1} s of waking",
            within.as_secs_f64()
        );
        match told {
            Some((at, _)) if *at <= nap.awake + within => Verdict::Held {
                note: format!(
                    "finished {:.1} s after waking",
                    (*at - nap.awake).as_secs_f64()
                ),
            },
            Some((at, _)) => {
                let late = (*at - nap.awake).as_secs_f64();
                Verdict::violated(*at, allowed, format!("after {late:.1} s"))
            }
            None => Verdict::violated(trace.end, allowed, "never"),
        }
    })
}

/// So long before its sleep a watcher has handled an answer (own choice, as in
/// [`Timing`](crate::oracle::Timing); the harness' own delay is added to it).
const HANDLED: Duration = Duration::from_millis(250);

/// What a display of its own pace shows so shortly before its sleep may be of the answer before the
/// one that it is reading (own choice).
const JUST: Duration = Duration::from_millis(50);

/// Is a time in which the watcher was stopped.
#[derive(Debug, Clone, Copy)]
struct Nap {
    asleep: Duration,
    awake: Duration,
}

impl Nap {
    fn last_of(trace: &Trace<'_>) -> Option<Self> {
        let last = |wanted: fn(&EventKind) -> bool| {
            let mut events = trace.events.iter().rev();
            events
                .find(|event| wanted(&event.kind))
                .map(|event| event.at)
        };
        let awake = last(|kind| matches!(kind, EventKind::Resumed))?;
        let asleep = last(|kind| matches!(kind, EventKind::Suspended))?;
        (asleep < awake).then_some(Self { asleep, awake })
    }

    /// Holds each claim made after waking, and the one that stands when unknown is due, against what
    /// was served since.
    fn only_new_claims(&self, trace: &Trace<'_>, under_way: UnderWay) -> Verdict {
        let due = self.awake + trace.timing.unknown_within();
        let made = trace.sightings.iter().map(|(at, _)| *at);
        let mut moments: Vec<Duration> = made
            .filter(|at| *at > self.awake)
            .chain((due <= trace.end).then_some(due))
            .collect();
        moments.sort_unstable();
        let excused = match under_way {
            UnderWay::Shown => self.under_way(trace),
            UnderWay::Old => Vec::new(),
        };
        for at in moments {
            let Some(sighting) = trace.standing(at).filter(|claim| !claim.says_unknown()) else {
                continue;
            };
            let since = self
                .awake
                .max(at.saturating_sub(trace.timing.unknown_within()));
            let served: Vec<&Truth> = trace
                .answers
                .iter()
                .filter(|answer| answer.at >= since && answer.at <= at)
                .map(|answer| &**answer.truth)
                .collect();
            if unlike(sighting, &served).is_none() && !served.is_empty() {
                continue;
            }
            let excusable = at <= self.awake + trace.timing.freshness();
            if excusable && !excused.is_empty() && unlike(sighting, &excused).is_none() {
                continue;
            }
            return self.old(trace, at, sighting, &served);
        }
        Verdict::Held {
            note: String::new(),
        }
    }

    /// Gives what an answer told that the watcher had, or was about to get, when it was stopped, and
    /// had not shown: it has claimed nothing since that came.
    fn under_way<'a>(&self, trace: &Trace<'a>) -> Vec<&'a Truth> {
        let before = trace
            .sightings
            .partition_point(|(at, _)| *at <= self.asleep);
        let shown = before.checked_sub(1).map(|last| trace.sightings[last].0);
        // A watcher that shows only what has changed claims nothing after most answers.
        let handling = HANDLED + trace.timing.harness_delay;
        let unhandled = self.asleep.saturating_sub(handling);
        let from = shown
            .unwrap_or_default()
            .max(unhandled)
            .min(self.asleep.saturating_sub(JUST));
        trace
            .answers
            .iter()
            .filter(|answer| answer.at >= from && answer.at <= self.awake)
            .map(|answer| &**answer.truth)
            .collect()
    }

    fn old(&self, trace: &Trace<'_>, at: Duration, claim: &Sighting, served: &[&Truth]) -> Verdict {
        let before = trace.candidates(self.asleep);
        let is_old = before
            .iter()
            .any(|answer| unlike(claim, &[answer.truth]).is_none());
        let why = if is_old {
            ", which was true before it slept: old data shown as live"
        } else {
            ""
        };
        let after = (at - self.awake).as_secs_f64();
        let (allowed, claimed) = match unlike(claim, served) {
            Some(wrong) if !served.is_empty() => (
                format!("{}, as served since its waking, or unknown", wrong.served),
                wrong.claimed,
            ),
            _ => (
                "unknown until it is answered again".to_owned(),
                words(claim),
            ),
        };
        Verdict::violated(
            at,
            allowed,
            format!("{claimed} {after:.1} s after waking{why}"),
        )
    }

    /// Holds if the watcher is live again in time after waking, or after a fault that it woke into.
    fn live_again(&self, trace: &Trace<'_>) -> Verdict {
        let within = trace.timing.awake_within();
        let mut cleared = trace.events.iter().rev();
        let cleared = cleared
            .find(|event| matches!(event.kind, EventKind::FaultCleared))
            .map(|event| event.at)
            .filter(|at| *at > self.awake);
        let (since, within, what) = match cleared {
            None => (self.awake, within, "waking"),
            Some(at) => (
                at,
                trace.timing.recovery_within(at - self.awake),
                "the fault's end",
            ),
        };
        let mut claims = trace.sightings.iter();
        let live = claims.find(|(at, claim)| *at > self.awake && !claim.says_unknown());
        let allowed = format!("live again within {:.1} s of {what}", within.as_secs_f64());
        match live {
            Some((at, _)) if *at <= since + within => Verdict::Held {
                note: format!(
                    "live {:.1} s after {what}",
                    at.saturating_sub(since).as_secs_f64()
                ),
            },
            None if trace.end < since + within => Verdict::NotJudged {
                reason: "the run ended too soon after the sleep".to_owned(),
            },
            Some((at, _)) => {
                let late = (*at - since).as_secs_f64();
                Verdict::violated(*at, allowed, format!("after {late:.1} s"))
            }
            None => {
                let watched = (trace.end - since).as_secs_f64();
                Verdict::violated(trace.end, allowed, format!("not in {watched:.1} s"))
            }
        }
    }
}

#[cfg(test)]
mod tests;
