//! How often a host is asked while it is in trouble, and whether it is asked again afterwards.

use std::time::Duration;

use super::asked::{Trouble, not_hammering, polls, whole};
use super::{Trace, Verdict};
use crate::event::Event;

/// Verifies, trial by trial, that a fault makes the watcher ask no more than three times as often as
/// it did before.
///
/// # Source
/// RFC 9110 section 9.2.2: a failed automatic retry is not retried automatically.
pub fn verify_no_hammering(trace: &Trace<'_>) -> Verdict {
    each_trouble(trace, |trouble| {
        let allowed = not_hammering(&trace.timing, trouble.lasted());
        let polls = polls(trouble.events);
        let lasted = trouble.lasted().as_secs_f64();
        match polls.get(allowed) {
            Some(at) => Verdict::violated(
                *at,
                format!("at most {allowed} requests in the {lasted:.1} s of the trouble"),
                format!("{} requests", polls.len()),
            ),
            None if polls.is_empty() => not_asked(),
            None => Verdict::Held {
                note: format!("{} requests in {lasted:.1} s", polls.len()),
            },
        }
    })
}

/// Verifies, trial by trial, that the watcher asks more rarely while the host fails for long: at most
/// seven tenths of what its interval gives, and one more, since the first failure has to be met.
///
/// # Source
/// Common practice: waits that double. Of twelve polls, four to six are left; seven tenths leave room
/// for waits that grow slowly (own choice).
pub fn verify_backs_off(trace: &Trace<'_>) -> Verdict {
    const SHARE: f64 = 0.7;
    each_trouble(trace, |trouble| {
        let usual = trouble.lasted().as_secs_f64() / trace.timing.interval.as_secs_f64().max(1e-3);
        let allowed = whole(SHARE * usual) + 1;
        let polls = polls(trouble.events);
        match polls.get(allowed) {
            Some(at) => Verdict::violated(
                *at,
                format!(
                    "at most {allowed} requests in a time in which it usually asks {usual:.0} times"
                ),
                format!("{} requests", polls.len()),
            ),
            None if polls.is_empty() => not_asked(),
            None => Verdict::Held {
                note: format!("{} requests instead of {usual:.0}", polls.len()),
            },
        }
    })
}

/// The longest that anybody waits who has not given up.
///
/// # Source
/// Common practice: 60 to 300 s.
const LONGEST_WAIT: Duration = Duration::from_secs(300);

/// Verifies that the watcher never waits for longer than twice what the outage has lasted so far, and
/// so asks again once it is over.
///
/// # Source
/// Common practice: waits double, with jitter by up to a half.
pub fn verify_asks_again(trace: &Trace<'_>) -> Verdict {
    let Some(trouble) = Trouble::first(trace.events) else {
        return never_raised();
    };
    let from_then_on: Vec<Duration> = polls(&[trouble.events, trouble.after].concat());
    let timing = &trace.timing;
    let mut last = trouble.raised;
    let mut longest = Duration::ZERO;
    for next in from_then_on.iter().copied().chain([trace.end]) {
        // In the first polls an interval is more than the outage has lasted: eight of them are allowed
        // in any case, or 5 s.
        let since = last - trouble.raised;
        let wait = (2 * since)
            .max(8 * timing.interval)
            .max(Duration::from_secs(5))
            .min(LONGEST_WAIT);
        let allowed = wait + 2 * timing.longest_interval + timing.harness_delay;
        if next - last > allowed {
            return Verdict::violated(
                last + allowed,
                format!(
                    "another request within {:.1} s, {:.1} s after the host went away",
                    allowed.as_secs_f64(),
                    since.as_secs_f64()
                ),
                format!("none for {:.1} s", (next - last).as_secs_f64()),
            );
        }
        longest = longest.max(next - last);
        last = next;
        if next >= trouble.cleared {
            break;
        }
    }
    match from_then_on.iter().find(|at| **at >= trouble.cleared) {
        Some(back) => Verdict::Held {
            note: format!(
                "longest wait {:.1} s, asked {:.1} s after the host was well again",
                longest.as_secs_f64(),
                (*back - trouble.cleared).as_secs_f64()
            ),
        },
        None => Verdict::NotJudged {
            reason: format!(
                "the run ended after {:.1} s without a request, which is not too long yet",
                longest.as_secs_f64()
            ),
        },
    }
}

fn each_trouble(trace: &Trace<'_>, judge: impl Fn(&Trouble<'_>) -> Verdict) -> Verdict {
    let trials = trace.trials();
    if trials.is_empty() {
        return never_raised();
    }
    Verdict::all(trials.iter().map(|trial| {
        let events: &[Event] = trial.events;
        let verdict = Trouble::first(events).map_or_else(never_raised, |trouble| judge(&trouble));
        verdict.about(trial.label)
    }))
}

fn never_raised() -> Verdict {
    Verdict::NotJudged {
        reason: "the fault was never raised".to_owned(),
    }
}

fn not_asked() -> Verdict {
    Verdict::NotJudged {
        reason: "the watcher asked nothing while the host was in trouble".to_owned(),
    }
}
