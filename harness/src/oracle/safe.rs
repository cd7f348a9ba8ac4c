//! Hot and off is not safe.

use coldbed_mock::sim::Truth;
use coldbed_mock::sim::touch::Contact;

use super::{Trace, Verdict};
use crate::watcher::Claim;

/// Verifies that nothing is called safe to touch while every answer it may rest on shows a hot part,
/// or a part of which the host itself has no reading.
///
/// # Source
/// ISO 13732-1:2006, bare metal at one minute's contact (from memory): the highest threshold of the
/// table, so that a watcher with any threshold of its own is judged only where none would do.
pub fn verify_safe(trace: &Trace<'_>) -> Verdict {
    trace.verify_alive().and_then(|| while_hot(trace))
}

fn while_hot(trace: &Trace<'_>) -> Verdict {
    let mut judged = 0_usize;
    for at in trace.moments() {
        let candidates = trace.candidates(at);
        let (Some(sighting), false) = (trace.standing(at), candidates.is_empty()) else {
            continue;
        };
        let Claim::Value(safe) = sighting.safe_to_touch else {
            continue;
        };
        judged += 1;
        if safe && candidates.iter().all(|answer| may_burn(answer.truth)) {
            let hottest = candidates.last().and_then(|answer| hottest(answer.truth));
            let shown = match hottest {
                Some(celsius) => format!("safe to touch at {celsius:.1} C"),
                None => "safe to touch without a reading".to_owned(),
            };
            let allowed = format!(
                "not safe to touch while a part has {:.0} C or more",
                Contact::OneMinute.burn_threshold_celsius()
            );
            return Verdict::violated(at, allowed, shown);
        }
    }
    match judged {
        0 => Verdict::NotJudged {
            reason: "the watcher said nothing of safety".to_owned(),
        },
        _ => Verdict::Held {
            note: format!("{judged} claims of safety"),
        },
    }
}

fn may_burn(truth: &Truth) -> bool {
    let threshold = Contact::OneMinute.burn_threshold_celsius();
    truth.heaters.values().any(|heater| {
        heater
            .actual_celsius
            .is_none_or(|celsius| celsius >= threshold)
    })
}

/// Gives the highest reading; `None` if one is missing.
fn hottest(truth: &Truth) -> Option<f64> {
    truth
        .heaters
        .values()
        .map(|heater| heater.actual_celsius)
        .try_fold(f64::NEG_INFINITY, |most, celsius| Some(most.max(celsius?)))
}
