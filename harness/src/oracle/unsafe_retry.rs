//! Whether what may have changed something is sent twice.

use std::time::Duration;

use super::asked::Asked;
use super::trace::withheld;
use super::{Trace, Verdict};

/// Verifies that no POST or PATCH whose answer was lost is sent again sooner than anybody would by
/// intent: within half an interval, and a second at most.
///
/// # Source
/// RFC 9110 section 9.2.2: PUT, DELETE and safe methods may be sent again, others may not.
pub fn verify_nothing_unsafe_retried(trace: &Trace<'_>) -> Verdict {
    let asked = Asked::all(trace.events);
    let lost = withheld(trace.events);
    let risky: Vec<&Asked<'_>> = asked
        .iter()
        .filter(|asked| matches!(asked.method, "POST" | "PATCH"))
        .collect();
    if !risky.iter().any(|asked| lost.contains(&asked.exchange)) {
        return Verdict::NotJudged {
            reason: if risky.is_empty() {
                "the watcher sends no POST and no PATCH by itself".to_owned()
            } else {
                "no answer to a POST or a PATCH was lost".to_owned()
            },
        };
    }
    let soon = (trace.timing.interval / 2).min(Duration::from_secs(1));
    for (index, first) in risky.iter().enumerate() {
        if !lost.contains(&first.exchange) {
            continue;
        }
        let equal = |next: &&&Asked<'_>| {
            (next.method, next.target, next.body) == (first.method, first.target, first.body)
                && next.at - first.at < soon
        };
        if let Some(again) = risky[index + 1..].iter().find(equal) {
            return Verdict::violated(
                again.at,
                "no second time by itself, since the first may have had its effect",
                format!(
                    "{} {} again {:.2} s after its answer was lost",
                    first.method,
                    first.path(),
                    (again.at - first.at).as_secs_f64()
                ),
            );
        }
    }
    Verdict::Held {
        note: format!("{} POST or PATCH requests", risky.len()),
    }
}
