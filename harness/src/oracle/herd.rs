//! Whether many watchers come back in one moment.

use std::time::Duration;

use super::asked::{Trouble, polls};
use super::{Trace, Verdict};

/// Verifies that of the first requests after an outage, as many as there are watchers, not all but one
/// lie within a tenth of the interval.
///
/// One is left out because the first watcher is started before the others. Where the requests are
/// spread, by jitter or because the watchers were never in step, that is fine.
pub fn verify_no_herd(trace: &Trace<'_>, watchers: usize) -> Verdict {
    let Some(trouble) = Trouble::first(trace.events) else {
        return Verdict::NotJudged {
            reason: "the fault was never raised".to_owned(),
        };
    };
    let mut first = polls(trouble.after);
    if first.len() < watchers {
        return Verdict::NotJudged {
            reason: format!(
                "only {} requests came after the outage of {watchers} watchers",
                first.len()
            ),
        };
    }
    first.truncate(watchers);
    let moment = (trace.timing.interval / 10).max(SHORTEST_MOMENT);
    let herd = watchers.saturating_sub(1).max(2);
    // Of so many in a row, the time from the first to the last.
    let tightest = first
        .windows(herd)
        .map(|herd| (herd[herd.len() - 1] - herd[0], herd[0]))
        .min();
    let Some((spread, at)) = tightest else {
        return Verdict::NotJudged {
            reason: "there was one watcher only".to_owned(),
        };
    };
    let seconds = spread.as_secs_f64();
    if spread <= moment {
        return Verdict::violated(
            at,
            format!(
                "no {herd} of {watchers} watchers' requests within {:.2} s",
                moment.as_secs_f64()
            ),
            format!("{herd} within {seconds:.3} s"),
        );
    }
    Verdict::Held {
        note: format!("{herd} requests of {watchers} watchers spread over {seconds:.2} s"),
    }
}

/// Processes that are woken in one moment are through with their requests only so much later (own
/// choice).
const SHORTEST_MOMENT: Duration = Duration::from_millis(50);
