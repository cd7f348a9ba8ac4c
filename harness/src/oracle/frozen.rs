//! Hosts whose own clock stands still or goes back: a careful watcher notices.

use std::time::Duration;

use super::{Trace, Verdict};
use crate::event::{Event, EventKind};
use crate::watcher::{Claim, Sighting};

/// Verifies that a watcher that is shown a clock says unknown once that stands still, and recovers.
///
/// `routes` are those whose bodies show the clock, as `GET /printer`.
pub fn verify_frozen_noticed(trace: &Trace<'_>, routes: &[String]) -> Verdict {
    trace
        .verify_alive()
        .and_then(|| asks_for_a_clock(trace, routes))
        .and_then(|| frozen_noticed(trace))
}

fn frozen_noticed(trace: &Trace<'_>) -> Verdict {
    let Some((raised, cleared)) = fault(trace) else {
        return not_raised();
    };
    let within = trace.timing.frozen_within();
    let mut claims = trace.sightings.iter();
    let noticed = claims.find(|(at, claim)| *at > raised && claim.says_unknown());
    let seconds = within.as_secs_f64();
    match noticed {
        Some((at, _)) if *at <= raised + within => {
            let after = (*at - raised).as_secs_f64();
            let mut later = trace.sightings.iter();
            if later.any(|(at, claim)| *at > cleared && !claim.says_unknown()) {
                return Verdict::Held {
                    note: format!("unknown {after:.1} s after the host's clock stood still"),
                };
            }
            let allowed = "live again when the host's clock goes on";
            Verdict::violated(trace.end, allowed, "still unknown")
        }
        _ if trace.end < raised + within => Verdict::NotJudged {
            reason: "the run ended before unknown was due".to_owned(),
        },
        _ => Verdict::violated(
            raised + within,
            format!("unknown within {seconds:.1} s of the host's clock standing still"),
            "the same old printer, shown as live",
        ),
    }
}

/// Verifies that the elapsed time and the progress a watcher shows of one print never go back while
/// the host's answers do.
pub fn verify_never_backwards(trace: &Trace<'_>, routes: &[String]) -> Verdict {
    trace
        .verify_alive()
        .and_then(|| asks_for_a_clock(trace, routes))
        .and_then(|| backwards(trace))
}

/// Gives a number that a sighting claims.
type NumberOf = fn(&Sighting) -> &Claim<f64>;

fn backwards(trace: &Trace<'_>) -> Verdict {
    let Some((raised, cleared)) = fault(trace) else {
        return not_raised();
    };
    let numbers: [(&str, NumberOf); 2] = [
        ("elapsed-seconds", |claim| &claim.elapsed_seconds),
        ("progress-percent", |claim| &claim.progress_percent),
    ];
    let mut judged = 0_usize;
    for (name, of) in numbers {
        let mut highest = f64::NEG_INFINITY;
        for (at, claim) in &trace.sightings {
            let Claim::Value(value) = of(claim) else {
                continue;
            };
            if *at <= raised || *at > cleared {
                continue;
            }
            // Rounding may take off what one poll adds.
            if *value < highest - 1.0 {
                return Verdict::violated(
                    *at,
                    format!("{name} of at least {highest:.1}, as shown before, or unknown"),
                    format!("{name} {value:.1}, of an answer older than the one before"),
                );
            }
            highest = highest.max(*value);
            judged += 1;
        }
    }
    match judged {
        0 => Verdict::NotJudged {
            reason: "the watcher claimed no number of the print meanwhile".to_owned(),
        },
        _ => Verdict::Held {
            note: format!("{judged} numbers, none of them going back"),
        },
    }
}

fn fault(trace: &Trace<'_>) -> Option<(Duration, Duration)> {
    let at_of = |wanted: fn(&EventKind) -> bool| {
        let mut events = trace.events.iter();
        events
            .find(|event| wanted(&event.kind))
            .map(|event| event.at)
    };
    let raised = at_of(|kind| matches!(kind, EventKind::FaultRaised { .. }))?;
    let cleared = at_of(|kind| matches!(kind, EventKind::FaultCleared));
    Some((raised, cleared.unwrap_or(trace.end)))
}

fn not_raised() -> Verdict {
    Verdict::NotJudged {
        reason: "the fault was never raised".to_owned(),
    }
}

/// Holds if what the watcher asks for shows the host's clock.
fn asks_for_a_clock(trace: &Trace<'_>, routes: &[String]) -> Verdict {
    let shows_it = |event: &Event| match &event.kind {
        EventKind::Request { method, target, .. } => {
            let path = target.split('?').next().unwrap_or(target);
            routes.contains(&format!("{method} {path}"))
        }
        _ => false,
    };
    match trace.events.iter().any(shows_it) {
        true => Verdict::Held {
            note: String::new(),
        },
        false => Verdict::NotJudged {
            reason: "what the watcher asks for shows no clock".to_owned(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::oracle::Timing;

    const SECOND: Duration = Duration::from_secs(1);

    /// A watcher that asks once a second: it may take 12.25 s to notice.
    const TIMING: Timing = Timing {
        interval: SECOND,
        longest_interval: SECOND,
        longest_idle_interval: SECOND,
        longest_claim_gap: SECOND,
        harness_delay: Duration::ZERO,
    };

    /// Gives a run with a fault from 5 s to 25 s, and these lines said at these seconds.
    fn said(lines: &[(u64, &str)]) -> Vec<Event> {
        let request = EventKind::Request {
            connection: 1,
            exchange: 1,
            method: "GET".to_owned(),
            target: "/printer?x=1".to_owned(),
            headers: Vec::new(),
            body: bytes::Bytes::new(),
        };
        let fault = "frozen".to_owned();
        let claims = lines.iter().map(|(second, line)| {
            let sighting = Sighting::from_line(line).unwrap();
            (*second, EventKind::Sighting(sighting))
        });
        let text = String::new();
        let mut events: Vec<Event> = [
            (0, request),
            (
                5,
                EventKind::FaultRaised {
                    fault,
                    begun: Duration::from_secs(5),
                },
            ),
            (25, EventKind::FaultCleared),
            (
                40,
                EventKind::Line {
                    on_stderr: false,
                    text,
                },
            ),
        ]
        .into_iter()
        .chain(claims)
        .map(|(second, kind)| Event {
            at: Duration::from_secs(second),
            kind,
        })
        .collect();
        events.sort_by_key(|event| event.at);
        events
    }

    const UNKNOWN: &str = r#"{"phase":"unknown"}"#;
    const PRINTING: &str = r#"{"phase":"printing"}"#;

    fn verdict(
        lines: &[(u64, &str)],
        verify: fn(&Trace<'_>, &[String]) -> Verdict,
        route: &str,
    ) -> Verdict {
        verify(&Trace::new(&said(lines), TIMING), &[route.to_owned()])
    }

    #[test]
    fn a_clock_that_stands_still_is_noticed_in_time_or_late_or_never() {
        let frozen = |lines: &[(u64, &str)]| verdict(lines, verify_frozen_noticed, "GET /printer");
        let noticed = [(4, PRINTING), (15, UNKNOWN), (26, PRINTING)];
        assert!(matches!(frozen(&noticed), Verdict::Held { .. }));
        let late = [(4, PRINTING), (18, UNKNOWN), (26, PRINTING)];
        assert!(matches!(frozen(&late), Verdict::Violated(_)));
        assert!(matches!(frozen(&[(4, PRINTING)]), Verdict::Violated(_)));
        let for_ever = [(4, PRINTING), (15, UNKNOWN)];
        assert!(matches!(frozen(&for_ever), Verdict::Violated(_)));
    }

    #[test]
    fn who_is_shown_no_clock_is_not_judged() {
        let verdict = verdict(&[(4, PRINTING)], verify_frozen_noticed, "GET /other");
        assert!(matches!(verdict, Verdict::NotJudged { .. }));
    }

    #[test]
    fn elapsed_time_may_stand_still_or_be_unknown_and_not_go_back() {
        let claims = |seconds: [u64; 3]| {
            let line = |s| format!(r#"{{"elapsed-seconds":{s}}}"#);
            let lines = seconds.map(line);
            let at = [
                (6, &*lines[0]),
                (7, &*lines[1]),
                (8, UNKNOWN),
                (9, &*lines[2]),
            ];
            verdict(&at, verify_never_backwards, "GET /printer")
        };
        assert!(matches!(claims([100, 104, 104]), Verdict::Held { .. }));
        assert!(matches!(claims([104, 100, 108]), Verdict::Violated(_)));
        assert!(matches!(claims([100, 104, 100]), Verdict::Violated(_)));
    }
}
