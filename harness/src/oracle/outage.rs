//! Without usable answers a watcher says that it does not know, and recovers by itself.

use std::time::Duration;

use super::{Trace, Verdict};
use crate::event::EventKind;

/// Verifies that the watcher says unknown within the allowed time of the fault, stays with it while
/// the fault lasts, and claims something again within the allowed time after it.
pub fn verify_outage(trace: &Trace<'_>) -> Verdict {
    trace.verify_alive().and_then(|| around_the_fault(trace))
}

fn around_the_fault(trace: &Trace<'_>) -> Verdict {
    let Some((raised, cleared)) = window(trace) else {
        return Verdict::NotJudged {
            reason: "the fault was never raised".to_owned(),
        };
    };
    if trace
        .standing(raised)
        .is_none_or(|sighting| sighting.says_unknown())
    {
        return Verdict::violated(
            raised,
            "a phase before anything goes wrong",
            "unknown, or no claim at all",
        );
    }
    let deadline = raised + trace.timing.unknown_within();
    let within = trace.timing.unknown_within().as_secs_f64();
    let said_unknown = trace
        .sightings
        .iter()
        .find(|(at, sighting)| *at > raised && *at <= deadline && sighting.says_unknown());
    let Some((first, _)) = said_unknown else {
        let observed = match trace.standing(deadline.min(cleared)) {
            Some(sighting) => format!("still {}", phase_words(&sighting.phase)),
            None => "no claim at all".to_owned(),
        };
        let allowed = format!("unknown within {within:.1} s of the fault");
        return Verdict::violated(deadline.min(cleared), allowed, observed);
    };
    let relapse = trace
        .sightings
        .iter()
        .find(|(at, sighting)| *at > deadline && *at < cleared && !sighting.says_unknown());
    if let Some((at, sighting)) = relapse {
        let observed = phase_words(&sighting.phase);
        return Verdict::violated(*at, "unknown for as long as the fault lasts", observed);
    }
    let patience = trace.timing.recovery_within(cleared - raised);
    let back = trace
        .sightings
        .iter()
        .find(|(at, sighting)| *at > cleared && !sighting.says_unknown());
    match back {
        Some((at, _)) if *at - cleared <= patience => Verdict::Held {
            note: format!(
                "unknown after {:.1} s, back {:.1} s after the fault",
                (*first - raised).as_secs_f64(),
                (*at - cleared).as_secs_f64()
            ),
        },
        other => {
            let observed = match other {
                Some((at, _)) => format!("after {:.1} s", (*at - cleared).as_secs_f64()),
                None => format!("not in {:.1} s", (trace.end - cleared).as_secs_f64()),
            };
            let within = patience.as_secs_f64();
            let allowed = format!("live again within {within:.1} s of the fault's end");
            Verdict::violated(other.map_or(trace.end, |(at, _)| *at), allowed, observed)
        }
    }
}

fn window(trace: &Trace<'_>) -> Option<(Duration, Duration)> {
    let at_of = |wanted: fn(&EventKind) -> bool| {
        trace
            .events
            .iter()
            .find(|event| wanted(&event.kind))
            .map(|event| event.at)
    };
    let raised = at_of(|kind| matches!(kind, EventKind::FaultRaised { .. }))?;
    let cleared = at_of(|kind| matches!(kind, EventKind::FaultCleared))?;
    Some((raised, cleared))
}

fn phase_words(claim: &crate::watcher::Claim<crate::watcher::PhaseClaim>) -> String {
    match claim {
        crate::watcher::Claim::Value(phase) => format!("phase {phase}"),
        _ => "values shown as live".to_owned(),
    }
}
