//! How often a host is asked while all is well, and by whom.

use std::time::Duration;

use super::asked::{Asked, polls};
use super::{Trace, Verdict};

/// Verifies that the watcher asks no more often than so: by the mean time between two requests for the
/// path asked for most.
pub fn verify_asks_no_more_than(trace: &Trace<'_>, fastest: Duration) -> Verdict {
    let polls = polls(trace.events);
    let (Some(first), Some(last), Ok(gaps @ 2..)) = (
        polls.first(),
        polls.last(),
        u32::try_from(polls.len().saturating_sub(1)),
    ) else {
        return Verdict::NotJudged {
            reason: "the watcher asked less than three times".to_owned(),
        };
    };
    let mean = (*last - *first) / gaps;
    let words = format!("one every {:.3} s", mean.as_secs_f64());
    if mean >= fastest {
        return Verdict::Held { note: words };
    }
    Verdict::violated(
        *last,
        format!("a request every {:.1} s at most", fastest.as_secs_f64()),
        words,
    )
}

/// Verifies that each request has a `User-Agent`.
///
/// # Source
/// RFC 9110 section 10.1.5.
pub fn verify_says_who_asks(trace: &Trace<'_>) -> Verdict {
    let asked = Asked::all(trace.events);
    let Some(first) = asked.first() else {
        return Verdict::NotJudged {
            reason: "the watcher asked nothing".to_owned(),
        };
    };
    let name = |asked: &Asked<'_>| {
        let value = asked.field("user-agent").unwrap_or_default();
        value.trim().to_owned()
    };
    if let Some(nameless) = asked.iter().find(|asked| name(asked).is_empty()) {
        return Verdict::violated(
            nameless.at,
            "a User-Agent that is not empty",
            format!("none with {} {}", nameless.method, nameless.path()),
        );
    }
    Verdict::Held { note: name(first) }
}
