//! A target that turns null is unknown: no crash, no number, no "off".

use super::{Trace, Verdict};
use crate::event::EventKind;
use crate::watcher::{Claim, Sighting};

/// Verifies that the watcher lives on while one heater's target is null, and claims neither a
/// target nor on or off for it.
pub fn verify_null_target(trace: &Trace<'_>, heater: &str) -> Verdict {
    trace.verify_alive().and_then(|| while_null(trace, heater))
}

fn while_null(trace: &Trace<'_>, heater: &str) -> Verdict {
    let raised = trace
        .events
        .iter()
        .find_map(|event| matches!(event.kind, EventKind::DriftRaised { .. }).then_some(event.at));
    let cleared = trace
        .events
        .iter()
        .find_map(|event| matches!(event.kind, EventKind::DriftCleared).then_some(event.at));
    let (Some(raised), Some(cleared)) = (raised, cleared) else {
        return Verdict::NotJudged {
            reason: "the target never was null".to_owned(),
        };
    };
    let from = raised + trace.timing.freshness();
    let mut judged = 0;
    for at in trace.moments() {
        if at < from || at >= cleared {
            continue;
        }
        let Some(sighting) = trace.standing(at) else {
            continue;
        };
        judged += 1;
        if let Some(said) = invented(sighting, heater) {
            return Verdict::violated(at, format!("{heater} target and on unknown"), said);
        }
    }
    if judged == 0 {
        return Verdict::NotJudged {
            reason: "no claim stood while the target was null".to_owned(),
        };
    }
    Verdict::Held {
        note: format!("{judged} claims while the target was null"),
    }
}

fn invented(sighting: &Sighting, heater: &str) -> Option<String> {
    let claims = sighting.heaters.get(heater)?;
    if let Claim::Value(target) = claims.target_celsius {
        return Some(format!("{heater} target-celsius {target}"));
    }
    if let Claim::Value(on) = claims.on {
        return Some(format!("{heater} on {on}"));
    }
    None
}
