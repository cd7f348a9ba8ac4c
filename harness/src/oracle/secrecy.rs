//! The key stays out of places where it is written down.

use super::{Trace, Verdict};
use crate::event::EventKind;

/// Verifies that no request target carries the key, plainly or percent-encoded.
///
/// # Source
/// RFC 6750 section 5.3: bearer tokens are not passed in page URLs, which end up in logs and
/// histories (from memory).
pub fn verify_key_not_in_url(trace: &Trace<'_>, key: &str) -> Verdict {
    let mut requests = 0;
    for event in trace.events {
        let EventKind::Request { target, .. } = &event.kind else {
            continue;
        };
        requests += 1;
        if percent_decoded(target).contains(key) {
            let shown = percent_decoded(target).replace(key, "KEY");
            return Verdict::violated(event.at, "a URL without the key", shown);
        }
    }
    if requests == 0 {
        return Verdict::NotJudged {
            reason: "the watcher asked nothing".to_owned(),
        };
    }
    Verdict::Held {
        note: format!("{requests} requests"),
    }
}

fn percent_decoded(target: &str) -> String {
    percent_encoding::percent_decode_str(target)
        .decode_utf8_lossy()
        .into_owned()
}
