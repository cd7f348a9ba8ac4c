//! The key stays out of places where it is written down or read by others.

mod key;

use std::collections::BTreeSet;
use std::time::Duration;

use coldbed_mock::fault::Fault;

use self::key::KeyForms;
use super::asked::Asked;
use super::{Trace, Verdict};
use crate::event::{Event, EventKind};

/// Verifies that no request target carries the key, plainly or percent-encoded.
///
/// # Source
/// RFC 6750 section 5.3: bearer tokens are not passed in page URLs, which end up in logs and
/// histories (from memory).
pub fn verify_key_not_in_url(trace: &Trace<'_>, key: &str) -> Verdict {
    let asked = Asked::all(trace.events);
    let forms = KeyForms::of(key);
    for request in &asked {
        if let Some(shown) = forms.found_in(request.target) {
            return Verdict::violated(request.at, "a URL without the key", shown);
        }
    }
    if asked.is_empty() {
        return Verdict::NotJudged {
            reason: "the watcher asked nothing".to_owned(),
        };
    }
    Verdict::Held {
        note: format!("{} requests", asked.len()),
    }
}

/// Verifies, trial by trial, that nothing that came to the other origin of a redirect has the key in
/// it: not in the target, not in any field, plainly, percent-encoded or in base64.
///
/// # Source
/// RFC 9110 section 15.4: fields such as Authorization are to be looked at again before they are sent
/// to another origin (from memory).
pub fn verify_key_not_sent_elsewhere(trace: &Trace<'_>, key: &str) -> Verdict {
    let trials = trace.trials();
    if trials.is_empty() {
        return Verdict::NotJudged {
            reason: "nothing was redirected".to_owned(),
        };
    }
    let forms = KeyForms::of(key);
    Verdict::all(
        trials
            .iter()
            .map(|trial| elsewhere(trial.events, &forms).about(trial.label)),
    )
}

fn elsewhere(events: &[Event], forms: &KeyForms) -> Verdict {
    let mut visits = 0;
    for event in events {
        let EventKind::Elsewhere { target, headers } = &event.kind else {
            continue;
        };
        visits += 1;
        let field = headers
            .iter()
            .find(|(_, value)| forms.found_in(value).is_some());
        let place = match field {
            Some((name, _)) => format!("the field {name}"),
            None if forms.found_in(target).is_some() => "the URL".to_owned(),
            None => continue,
        };
        return Verdict::violated(
            event.at,
            "nothing of the key at another origin",
            format!("the key in {place} of a request to it"),
        );
    }
    let redirected = events.iter().any(|event| {
        matches!(
            event.kind,
            EventKind::Answer {
                status: 301..=308,
                ..
            }
        )
    });
    match (visits, redirected) {
        (0, false) => Verdict::NotJudged {
            reason: "the watcher asked nothing while it was redirected".to_owned(),
        },
        (0, true) => Verdict::Held {
            note: "not followed".to_owned(),
        },
        _ => Verdict::Held {
            note: "followed without the key".to_owned(),
        },
    }
}

/// Verifies that no line the watcher wrote has the key in it, plainly, percent-encoded or in base64.
pub fn verify_key_not_printed(trace: &Trace<'_>, key: &str) -> Verdict {
    let forms = KeyForms::of(key);
    let (mut lines, mut subject) = (0_usize, None);
    for event in trace.events {
        match &event.kind {
            EventKind::TrialBegan { label } => subject = Some(label),
            EventKind::TrialEnded => subject = None,
            EventKind::Line { on_stderr, text } => {
                lines += 1;
                let Some(shown) = forms.found_in(text) else {
                    continue;
                };
                let stream = if *on_stderr { "error stream" } else { "output" };
                let verdict = Verdict::violated(
                    event.at,
                    "no line with the key",
                    format!("on the {stream}: {shown}"),
                );
                return match subject {
                    Some(label) => verdict.about(label),
                    None => verdict,
                };
            }
            _ => {}
        }
    }
    Verdict::Held {
        note: format!("{lines} lines beside {} claims", trace.sightings.len()),
    }
}

/// Verifies, trial by trial, that nothing is asked over a connection on which the host showed a
/// certificate that is no good.
///
/// # Source
/// RFC 9110 section 4.3.4: the certificate has to be for the host, and trusted.
pub fn verify_certificate_checked(trace: &Trace<'_>) -> Verdict {
    if trace.answers.is_empty() {
        return no_tls();
    }
    let trials = trace
        .trials()
        .into_iter()
        .map(|trial| verify_turned_down(trial.events).about(trial.label));
    Verdict::all(trials)
}

/// Verifies of a stretch of a run that nothing is asked over a connection on which the host showed a
/// certificate that is no good.
pub(super) fn verify_turned_down(events: &[Event]) -> Verdict {
    let shown: BTreeSet<u64> = connections_with(events, |fault| {
        matches!(fault, Fault::TlsCertificate { .. })
    });
    let asked = Asked::all(events);
    let mut asked = asked.iter();
    match asked.find(|asked| shown.contains(&asked.connection)) {
        Some(asked) => Verdict::violated(
            asked.at,
            "no request to a host that cannot say who it is",
            format!("{} {}, with all its fields", asked.method, asked.path()),
        ),
        None if shown.is_empty() => Verdict::NotJudged {
            reason: "the watcher did not connect while the host showed it".to_owned(),
        },
        None => Verdict::Held {
            note: "turned down".to_owned(),
        },
    }
}

/// Verifies that answers whose length was told are used though the connection then ends without TLS'
/// farewell.
///
/// # Source
/// RFC 9112 section 9.8.
pub fn verify_tls_end_is_harmless(trace: &Trace<'_>) -> Verdict {
    if trace.answers.is_empty() {
        return no_tls();
    }
    Verdict::all(trace.trials().iter().map(|trial| {
        let cut_off = connections_with(trial.events, |fault| {
            matches!(fault, Fault::TlsWithoutNotify)
        });
        let Some(first) = Asked::all(trial.events)
            .iter()
            .find(|asked| cut_off.contains(&asked.connection))
            .map(|asked| asked.at)
        else {
            return Verdict::NotJudged {
                reason: "no answer was ended so".to_owned(),
            };
        };
        let unknown: Vec<Duration> = trial
            .trace
            .sightings
            .iter()
            .filter(|(at, sighting)| *at > first && sighting.says_unknown())
            .map(|(at, _)| *at)
            .collect();
        let stands = trial.trace.sightings.last().map(|(at, _)| at) == unknown.last();
        match unknown[..] {
            // Once, and got over, may be a time-out on a strained machine.
            [at, ref more @ ..] if stands || !more.is_empty() => Verdict::violated(
                at,
                "what the answers say: their length was told, and they came whole",
                format!("claims of unknown: {}", unknown.len()),
            ),
            _ => Verdict::Held {
                note: format!("{} connections ended so", cut_off.len()),
            },
        }
    }))
}

fn connections_with(events: &[Event], is_it: impl Fn(&Fault) -> bool) -> BTreeSet<u64> {
    let happened = |event: &Event| match &event.kind {
        EventKind::FaultHappened {
            connection, fault, ..
        } if is_it(&fault.fault) => Some(*connection),
        _ => None,
    };
    events.iter().filter_map(happened).collect()
}

fn no_tls() -> Verdict {
    Verdict::NotJudged {
        reason: NO_TLS.to_owned(),
    }
}

/// Why nothing can be said of a watcher that never asks over TLS.
pub(crate) const NO_TLS: &str =
    "it asks nothing over TLS: it does not speak it, or its command does not take {authority}";
