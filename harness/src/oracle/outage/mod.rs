//! What a watcher owes while something is wrong with the connection, and after it.
//!
//! One rule stands behind all: what is shown is unknown, or was true of an answer that reached the
//! watcher within the time it may take to notice a failure. What differs from fault to fault is which
//! answers count ([`Owed`]).

mod reached;
mod special;
mod window;

use std::time::Duration;

use super::likeness::{unlike, words};
use super::{Trace, Verdict};
use crate::watcher::Sighting;
use reached::Reached;
pub use special::{
    stream_timing, verify_short_length, verify_stream_outage, verify_unasked_not_modified,
};
use window::Window;

/// Says what a watcher owes while a fault is in force.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owed {
    /// No usable answer comes: it says unknown in time, stays with it, shows nothing of an answer that
    /// is not whole, and recovers afterwards.
    Unknown,
    /// Answers come that it may use or refuse: what it shows is right or unknown, never old, and it
    /// recovers afterwards.
    RightOrUnknown,
    /// There is a way round the fault: right or unknown, and right again before the fault is over.
    RightAgain,
    /// The fault is harmless: right, but for a hiccup.
    Right,
}

/// So many good answers in a row, and the watcher saying all along that it does not know, are no
/// hiccup any more (own choice).
const HICCUP: usize = 4;

/// Verifies that the watcher says unknown within the allowed time of the fault, stays with it while
/// the fault lasts, and claims something again within the allowed time after it.
pub fn verify_outage(trace: &Trace<'_>) -> Verdict {
    verify_fault(trace, Owed::Unknown)
}

/// Verifies what is owed while the first fault of the run is in force, and the recovery after it.
pub fn verify_fault(trace: &Trace<'_>, owed: Owed) -> Verdict {
    trace.verify_alive().and_then(|| {
        let Some(window) = Window::of(trace) else {
            return Verdict::NotJudged {
                reason: "the fault was never raised".to_owned(),
            };
        };
        Judge {
            trace,
            owed,
            window,
            reached: reached::collect(trace, owed, window),
        }
        .judge()
    })
}

struct Judge<'t, 'a> {
    trace: &'t Trace<'a>,
    owed: Owed,
    window: Window,
    reached: Vec<Reached<'a>>,
}

impl Judge<'_, '_> {
    fn judge(&self) -> Verdict {
        let raised = self.window.raised;
        if self
            .trace
            .standing(raised)
            .is_none_or(Sighting::says_unknown)
        {
            return Verdict::violated(
                raised,
                "a phase before anything goes wrong",
                "unknown, or no claim at all",
            );
        }
        for at in self.moments() {
            let Some(sighting) = self.trace.standing(at) else {
                continue;
            };
            let verdict = match sighting.says_unknown() {
                true if self.owed == Owed::Right => self.hiccup(at),
                true => None,
                false => self.claim(at, sighting),
            };
            if let Some(broken) = verdict {
                return broken;
            }
        }
        self.recovery()
    }

    /// Gives the moments at which the standing claim is looked at: each time one is made, and each
    /// time an answer can no longer be what it rests on, so that silence is judged too.
    fn moments(&self) -> Vec<Duration> {
        let raised = self.window.raised;
        let made = self.trace.sightings.iter().map(|(at, _)| *at);
        let lapsed = self
            .reached
            .iter()
            .map(|answer| answer.until + self.patience());
        let mut moments: Vec<Duration> = made
            .chain(lapsed)
            .chain([raised + self.trace.timing.unknown_within()])
            .filter(|at| *at > raised && *at <= self.trace.end)
            .collect();
        moments.sort_unstable();
        moments
    }

    /// Gives how long a claim may outlast the answer it rests on.
    fn patience(&self) -> Duration {
        let timing = self.trace.timing;
        match self.owed {
            // One answer of a harmless fault may be lost on the way.
            Owed::Right => timing.freshness() + timing.longest_interval,
            _ => timing.unknown_within(),
        }
    }

    /// Holds a claim that stands at a moment against the answers it may rest on.
    fn claim(&self, at: Duration, sighting: &Sighting) -> Option<Verdict> {
        let Window { raised, cleared } = self.window;
        let within = self.trace.timing.unknown_within();
        let since = at.saturating_sub(self.patience());
        let mut truths: Vec<_> = self
            .reached
            .iter()
            .filter(|answer| answer.from <= at && answer.until > since)
            .map(|answer| answer.truth)
            .collect();
        if at < raised + within {
            truths.extend(self.trace.candidates(raised).iter().map(|a| &**a.truth));
        }
        let wrong = unlike(sighting, &truths)?;
        let why = self.why(sighting);
        let seconds = within.as_secs_f64();
        let made_now = self.trace.sightings.iter().any(|(made, _)| *made == at);
        if !truths.is_empty() {
            let (allowed, observed) = (wrong.served, format!("{}{why}", wrong.claimed));
            return Some(Verdict::violated(
                at,
                format!("{allowed}, as served, or unknown"),
                observed,
            ));
        }
        let claimed = words(sighting);
        Some(match made_now {
            false if at <= cleared => Verdict::violated(
                at,
                format!("unknown within {seconds:.1} s of the fault"),
                format!("still {claimed}{why}"),
            ),
            true if at <= cleared => Verdict::violated(
                at,
                "unknown for as long as the fault lasts",
                format!("{claimed}{why}"),
            ),
            _ => Verdict::violated(
                at,
                format!("unknown, with no usable answer for {seconds:.1} s"),
                format!("{claimed}{why}"),
            ),
        })
    }

    /// Says where a wrong claim must come from.
    fn why(&self, sighting: &Sighting) -> &'static str {
        let raised = self.window.raised;
        let before = self.trace.candidates(raised);
        let is_old = before
            .iter()
            .any(|answer| unlike(sighting, &[answer.truth]).is_none());
        let spoilt = reached::spoilt(self.trace, self.window);
        let is_spoilt = spoilt
            .iter()
            .any(|truth| unlike(sighting, &[truth]).is_none());
        match (is_old, is_spoilt) {
            (true, _) => ", from before the fault: old data shown as live",
            (false, true) => ", taken from an answer that never came whole",
            (false, false) => "",
        }
    }

    /// Holds an unknown that stands at a moment against good answers that should have ended it.
    fn hiccup(&self, at: Duration) -> Option<Verdict> {
        let came = |answer: &&Reached<'_>| answer.from > self.window.raised && answer.from <= at;
        let came: Vec<_> = self.reached.iter().filter(came).collect();
        let from = came.len().checked_sub(HICCUP)?;
        let since = came[from].from;
        let mut claims = self.trace.sightings.iter();
        let said =
            claims.any(|(made, claim)| *made >= since && *made <= at && !claim.says_unknown());
        (!said).then(|| {
            Verdict::violated(
                at,
                "right in spite of the fault, which does a good answer no harm",
                format!("unknown after {HICCUP} good answers in a row"),
            )
        })
    }

    fn recovery(&self) -> Verdict {
        let cleared = self.window.cleared;
        let noticed = match self.noticed() {
            Ok(noticed) => noticed,
            Err(unjudged) => return unjudged,
        };
        let standing = self.trace.standing(cleared);
        if standing.is_some_and(|sighting| !sighting.says_unknown()) {
            return Verdict::Held {
                note: format!("{noticed}, right while it lasted"),
            };
        }
        match self.owed {
            Owed::RightAgain => self.right_again(&noticed),
            _ => self.back(&noticed),
        }
    }

    /// Says when unknown was claimed, or why that cannot be judged.
    fn noticed(&self) -> Result<String, Verdict> {
        let Window { raised, cleared } = self.window;
        let mut claims = self.trace.sightings.iter();
        let first = claims.find(|(at, claim)| *at > raised && claim.says_unknown());
        if let Some((at, _)) = first.filter(|(at, _)| *at < cleared) {
            let after = (*at - raised).as_secs_f64();
            return Ok(format!("unknown after {after:.1} s"));
        }
        if self.owed != Owed::Unknown {
            return Ok("never unknown".to_owned());
        }
        let within = |answer: &Reached<'_>| answer.from > raised && answer.from < cleared;
        let reason = match self.reached.iter().any(within) {
            true => "good answers came all the same: they were too short to be cut there",
            false => "the machine was too strained: the fault was over before unknown was due",
        };
        Err(Verdict::NotJudged {
            reason: reason.to_owned(),
        })
    }

    /// Holds if something was claimed again before the fault was over.
    fn right_again(&self, noticed: &str) -> Verdict {
        let Window { raised, cleared } = self.window;
        // A watcher that stumbles now and then may be stumbling just now.
        let since = cleared.saturating_sub(self.trace.timing.unknown_within());
        let mut claims = self.trace.sightings.iter();
        if claims.any(|(at, claim)| *at > since && *at < cleared && !claim.says_unknown()) {
            return Verdict::Held {
                note: format!("{noticed}, right again while it lasted"),
            };
        }
        let within = (cleared - raised).as_secs_f64();
        Verdict::violated(
            cleared,
            format!("live again within {within:.1} s, by another connection"),
            "still unknown",
        )
    }

    /// Holds if something is claimed again in time after the fault.
    fn back(&self, noticed: &str) -> Verdict {
        let Window { raised, cleared } = self.window;
        let patience = self.trace.timing.recovery_within(cleared - raised)
            + window::told_to_wait(self.trace, self.window);
        let mut claims = self.trace.sightings.iter();
        let back = claims.find(|(at, claim)| *at > cleared && !claim.says_unknown());
        let watched = (self.trace.end - cleared).as_secs_f64();
        let observed = match back {
            Some((at, _)) if *at - cleared <= patience => {
                let back = (*at - cleared).as_secs_f64();
                return Verdict::Held {
                    note: format!("{noticed}, back {back:.1} s after the fault"),
                };
            }
            None if self.trace.end - cleared < patience => {
                return Verdict::NotJudged {
                    reason: format!("the run ended {watched:.1} s after the fault"),
                };
            }
            Some((at, _)) => format!("after {:.1} s", (*at - cleared).as_secs_f64()),
            None => format!("not in {watched:.1} s"),
        };
        let within = patience.as_secs_f64();
        let allowed = format!("live again within {within:.1} s of the fault's end");
        Verdict::violated(
            back.map_or(self.trace.end, |(at, _)| *at),
            allowed,
            observed,
        )
    }
}

#[cfg(test)]
mod tests;
