//! Whether a host that asks for a rest gets it, and no more than that.

use std::time::Duration;

use super::asked::{Asked, Trouble, not_hammering, polls};
use super::{Trace, Verdict};
use crate::event::{Event, EventKind};

/// Verifies, trial by trial, that after an answer with `Retry-After` the same is not asked for again
/// before so long a time has passed.
///
/// # Source
/// RFC 9110 section 10.2.3.
pub fn verify_retry_after(trace: &Trace<'_>, wait: Duration) -> Verdict {
    let trials = trace.trials();
    if trials.is_empty() {
        return never_asked_to();
    }
    Verdict::all(
        trials
            .iter()
            .map(|trial| in_trial(trial.events, wait).about(trial.label)),
    )
}

/// Clocks differ by some parts in a thousand, and an answer is on its way for some time (own choice).
const TOLERANCE: Duration = Duration::from_millis(100);

fn in_trial(events: &[Event], wait: Duration) -> Verdict {
    let asks_for_rest = |event: &Event| match &event.kind {
        EventKind::Answer {
            exchange, headers, ..
        } => {
            let has_it = |(name, _): &(String, String)| name.eq_ignore_ascii_case("retry-after");
            let field = headers.iter().find(|field| has_it(field));
            field.map(|(_, value)| (event.at, *exchange, value.clone()))
        }
        _ => None,
    };
    let Some((told, exchange, value)) = events.iter().find_map(asks_for_rest) else {
        return never_asked_to();
    };
    let asked = Asked::all(events);
    let path = asked
        .iter()
        .find(|asked| asked.exchange == exchange)
        .map(Asked::path);
    let next = asked
        .iter()
        .find(|next| next.at > told && Some(next.path()) == path);
    let end = events.last().map_or(told, |event| event.at);
    let least = wait.saturating_sub(TOLERANCE);
    match next {
        Some(next) if next.at - told < least => Verdict::violated(
            next.at,
            format!(
                "nothing for {:.1} s after Retry-After: {value}",
                wait.as_secs_f64()
            ),
            format!("a request {:.1} s after it", (next.at - told).as_secs_f64()),
        ),
        None if end - told < least => Verdict::NotJudged {
            reason: "the run ended before the wait was over".to_owned(),
        },
        _ => Verdict::Held {
            note: next.map_or_else(String::new, |next| {
                format!("asked {:.1} s after it", (next.at - told).as_secs_f64())
            }),
        },
    }
}

fn never_asked_to() -> Verdict {
    Verdict::NotJudged {
        reason: "the watcher never asked while the host wanted a rest".to_owned(),
    }
}

/// Within what time a host is asked again that wanted a year of rest by mistake: a minute, and a tenth
/// for jitter.
pub const YEAR_ENDS_WITHIN: Duration = Duration::from_secs(66);

/// Verifies that a year of `Retry-After` is not kept, and not taken for no time at all either.
pub fn verify_sleeps_no_year(trace: &Trace<'_>) -> Verdict {
    let Some(trouble) = Trouble::first(trace.events) else {
        return never_asked_to();
    };
    let tried = polls(trouble.events);
    if tried.is_empty() {
        return never_asked_to();
    }
    let allowed = not_hammering(&trace.timing, trouble.lasted());
    if let Some(at) = tried.get(allowed) {
        let lasted = trouble.lasted().as_secs_f64();
        return Verdict::violated(
            *at,
            format!("at most {allowed} requests in {lasted:.1} s of Retry-After: 31536000"),
            format!("{} requests", tried.len()),
        );
    }
    let timing = &trace.timing;
    let within = YEAR_ENDS_WITHIN + 2 * timing.longest_interval + timing.harness_delay;
    let back = trace
        .answers
        .iter()
        .find(|answer| answer.at > trouble.cleared);
    let waited = back.map_or(trace.end, |back| back.at) - trouble.cleared;
    let words = format!("{:.1} s", waited.as_secs_f64());
    match back {
        Some(_) if waited <= within => Verdict::Held {
            note: format!("asked again {words} after the host was well again"),
        },
        None if waited <= within => Verdict::NotJudged {
            reason: format!("the run ended {words} after the host was well again"),
        },
        _ => Verdict::violated(
            trouble.cleared + within,
            format!(
                "asked again within {:.0} s of the end of it",
                within.as_secs_f64()
            ),
            format!("nothing for {words}"),
        ),
    }
}
