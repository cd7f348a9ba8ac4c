//! Words: the job's name, and why the printer does not print.

use coldbed_mock::sim::{Phase, Truth};
use unicode_normalization::UnicodeNormalization;

use super::subject::Subject;
use super::{Trace, Verdict};
use crate::watcher::Claim;

/// Verifies that each name claimed of the job is one that was served.
///
/// # Source
/// Unicode Standard Annex 15: composed and decomposed letters are the same text (form NFC).
pub fn verify_job_names(trace: &Trace<'_>) -> Verdict {
    let subject = Subject {
        name: "job-name".to_owned(),
        claimed: &|sighting| sighting.job_name.clone(),
        served: &|truth| truth.job.as_ref().map(|job| job.name.clone()),
        agree: &|claimed, served| served.iter().any(|name| is_same(claimed, name)),
        show: &|name| format!("`{name}`"),
    };
    trace.verify_alive().and_then(|| subject.verify(trace))
}

/// Verifies that while the printer is in error or stands still, the reason claimed has one of the
/// served keywords in it.
///
/// # Source
/// RFC 8011 section 5.4.12: a keyword may end in its severity, `-report`, `-warning` or `-error`.
pub fn verify_reasons(trace: &Trace<'_>) -> Verdict {
    trace
        .verify_alive()
        .and_then(|| while_standing_still(trace))
}

/// So many answers with a reason in a row without one claimed are too many (own choice, as for other
/// values).
const UNTOLD_FOR: usize = 4;

fn while_standing_still(trace: &Trace<'_>) -> Verdict {
    let mut judged = 0_usize;
    for at in trace.moments() {
        let candidates = trace.candidates(at);
        let due: Vec<String> = candidates
            .iter()
            .filter_map(|answer| reasons(answer.truth))
            .collect();
        let (Some(sighting), true) = (trace.standing(at), due.len() == candidates.len()) else {
            continue;
        };
        let allowed = || format!("a reason out of {}", due.join(" "));
        match &sighting.reason {
            Claim::Value(claimed) if due.iter().any(|served| names_one(claimed, served)) => {
                judged += 1;
            }
            Claim::Value(claimed) => {
                return Verdict::violated(at, allowed(), format!("reason `{claimed}`"));
            }
            _ if due.len() >= UNTOLD_FOR => {
                return Verdict::violated(at, allowed(), "no reason");
            }
            _ => {}
        }
    }
    match judged {
        0 => Verdict::NotJudged {
            reason: "nothing stood still for long enough".to_owned(),
        },
        _ => Verdict::Held {
            note: format!("{judged} claims of a reason"),
        },
    }
}

pub(super) fn is_same(claimed: &str, served: &str) -> bool {
    claimed.nfc().eq(served.nfc())
}

/// Gives the keywords that tell why nothing moves; `None` where all is well, or none is served.
fn reasons(truth: &Truth) -> Option<String> {
    let of_job = truth.job.iter().flat_map(|job| &job.reasons);
    match truth.phase {
        Phase::Error | Phase::Paused => {
            let all: Vec<&str> = truth
                .printer
                .reasons
                .iter()
                .chain(of_job)
                .map(String::as_str)
                .collect();
            (!all.is_empty()).then(|| all.join(" "))
        }
        _ => None,
    }
}

fn names_one(claimed: &str, keywords: &str) -> bool {
    let claimed = claimed.to_lowercase();
    keywords
        .split(' ')
        .any(|keyword| claimed.contains(without_severity(keyword)))
}

fn without_severity(keyword: &str) -> &str {
    ["-report", "-warning", "-error"]
        .iter()
        .find_map(|severity| keyword.strip_suffix(severity))
        .unwrap_or(keyword)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn composed_and_decomposed_letters_are_one_name() {
        assert!(is_same("caf\u{e9}", "cafe\u{301}"));
        assert!(!is_same("cafe", "caf\u{e9}"));
    }

    #[test]
    fn a_reason_may_leave_its_severity_out_and_have_words_round_it() {
        let served = "extruder-temperature-high-error paused";
        assert!(names_one("extruder-temperature-high", served));
        assert!(names_one(
            "stopped: extruder-temperature-high-error",
            served
        ));
        assert!(!names_one("extruder", served));
        assert!(!names_one("material-empty", served));
    }
}
