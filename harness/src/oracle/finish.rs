//! Is the finish noticed, and how late.

use std::time::Duration;

use coldbed_mock::sim::Phase;

use super::{Trace, Verdict};
use crate::watcher::{Claim, PhaseClaim};

/// Verifies that a finish is claimed within the allowed time of the first answer that told it, and
/// that the watcher did ask in time.
pub fn verify_finish_noticed(trace: &Trace<'_>) -> Verdict {
    trace.verify_alive().and_then(|| lateness(trace))
}

fn lateness(trace: &Trace<'_>) -> Verdict {
    let is_finished = |phase| phase == Phase::Finished;
    let Some(first) = trace
        .answers
        .iter()
        .position(|answer| is_finished(answer.truth.phase))
    else {
        return Verdict::NotJudged {
            reason: "the watcher never asked after the finish".to_owned(),
        };
    };
    let told = trace.answers[first].at;
    if let Some(before) = first.checked_sub(1) {
        let gap = told.saturating_sub(trace.answers[before].at);
        // Held against the pace the watcher keeps while nothing happens: one that slows down just
        // while somebody waits for the end has it the wrong way round.
        let pace = trace
            .timing
            .longest_idle_interval
            .min(trace.timing.longest_interval);
        let allowed = 3 * pace + Duration::from_secs(1) + trace.timing.harness_delay;
        if gap > allowed {
            return Verdict::violated(
                told,
                format!("a request at least every {:.1} s", allowed.as_secs_f64()),
                format!("none for {:.1} s around the finish", gap.as_secs_f64()),
            );
        }
    }
    let finished = Claim::Value(PhaseClaim::Known(Phase::Finished));
    let claim = trace
        .sightings
        .iter()
        .find(|(at, sighting)| *at >= told && sighting.phase == finished);
    let allowed = trace.timing.freshness();
    let allowed_words = format!(
        "phase finished within {:.1} s of the first answer that says so",
        allowed.as_secs_f64()
    );
    match claim {
        Some((at, _)) if *at - told <= allowed => Verdict::Held {
            note: format!(
                "noticed {:.2} s after the answer",
                (*at - told).as_secs_f64()
            ),
        },
        Some((at, _)) => {
            let late = (*at - told).as_secs_f64();
            Verdict::violated(*at, allowed_words, format!("{late:.1} s after it"))
        }
        None if trace.end - told > allowed => {
            let watched = (trace.end - told).as_secs_f64();
            Verdict::violated(trace.end, allowed_words, format!("not in {watched:.1} s"))
        }
        None => Verdict::NotJudged {
            reason: "the run ended too soon after the finish".to_owned(),
        },
    }
}
