//! What a watcher claimed against what a session told it, in virtual time.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::dialect::{Quantity, Reading, Told};
use coldbed_mock::sim::Phase;
use serde_json::json;

use super::*;
use crate::event::{Event, EventKind};
use crate::oracle::Timing;
use crate::recorded::{Heard, Said};

/// Builds what was observed, a poll a second.
#[derive(Default)]
struct Night {
    events: Vec<Event>,
    polls: u64,
}

fn printing(progress: Option<f64>) -> Said {
    let progress = match progress {
        Some(value) => Told::Value { value, slack: 0.05 },
        None => Told::Unknown,
    };
    Said::Told(Reading {
        phase: Some(Told::Value {
            value: vec![Phase::Printing],
            slack: 0.0,
        }),
        numbers: vec![(Quantity::Progress, progress)],
        values: vec![(
            Quantity::JobName,
            Told::Value {
                value: json!("clip"),
                slack: 0.0,
            },
        )],
    })
}

fn unreadable() -> Said {
    Said::Told(Reading {
        numbers: vec![(Quantity::Progress, Told::Unreadable("half".to_owned()))],
        ..Reading::default()
    })
}

impl Night {
    fn note(&mut self, after_ms: u64, kind: EventKind) {
        let at = Duration::from_millis(self.polls * 1000 + after_ms);
        self.events.push(Event { at, kind });
    }

    /// A poll that is answered so, and what the watcher claims then.
    fn poll(self, said: Said, claim: &str) -> Self {
        let recorded = self.polls + 1;
        self.again(recorded, said, Reading::default(), claim)
    }

    fn again(mut self, recorded: u64, said: Said, expected: Reading, claim: &str) -> Self {
        let heard = Heard {
            recorded,
            at: Duration::from_secs(5 * recorded),
            status: Some(200),
            content: String::new(),
            said,
            expected,
        };
        let exchange = self.polls;
        let heard = Arc::new(heard);
        self.note(0, EventKind::Replayed { exchange, heard });
        if let Some(sighting) = Sighting::from_line(claim) {
            self.note(50, EventKind::Sighting(sighting));
        }
        self.polls += 1;
        self
    }

    fn polls(self, count: u64, said: &Said, claim: &str) -> Self {
        (0..count).fold(self, |night, _| night.poll(said.clone(), claim))
    }

    fn judge(mut self, verify: fn(&Trace<'_>) -> Verdict) -> Verdict {
        self.note(900, EventKind::RunEnded);
        verify(&Trace::new(
            &self.events,
            Timing::every(Duration::from_secs(1)),
        ))
    }
}

fn is_held(verdict: &Verdict) -> bool {
    matches!(verdict, Verdict::Held { .. })
}

fn observed(verdict: &Verdict) -> &str {
    match verdict {
        Verdict::Violated(violations) => &violations[0].observed,
        _ => panic!("{verdict:?}"),
    }
}

const KNOWN: &str = r#"{"phase":"printing","progress-percent":40,"job-name":"clip"}"#;
const UNKNOWN: &str = r#"{"phase":null,"progress-percent":null}"#;

#[test]
fn what_the_answers_say_may_be_claimed() {
    let night = || Night::default().polls(8, &printing(Some(40.0)), KNOWN);
    assert!(is_held(&night().judge(verify_recorded_phases)));
    assert!(is_held(&night().judge(verify_recorded_job)));
    assert!(is_held(&night().judge(verify_followed)));
}

#[test]
fn another_phase_number_or_name_is_a_violation() {
    let wrong = r#"{"phase":"idle","progress-percent":14,"job-name":"clap"}"#;
    let night = || Night::default().polls(8, &printing(Some(40.0)), wrong);
    assert_eq!(
        observed(&night().judge(verify_recorded_phases)),
        "phase idle"
    );
    assert_eq!(
        observed(&night().judge(verify_recorded_job)),
        "progress-percent 14"
    );
    let name = r#"{"progress-percent":40,"job-name":"clap"}"#;
    let named = Night::default().polls(8, &printing(Some(40.0)), name);
    assert_eq!(observed(&named.judge(verify_recorded_job)), "job-name clap");
}

#[test]
fn a_number_for_what_the_host_does_not_know_is_a_violation() {
    let zero = r#"{"phase":"printing","progress-percent":0}"#;
    let night = Night::default()
        .polls(4, &printing(Some(40.0)), KNOWN)
        .polls(8, &printing(None), zero);
    let verdict = night.judge(verify_recorded_job);
    assert_eq!(observed(&verdict), "progress-percent 0");
}

#[test]
fn not_knowing_for_long_what_the_host_says_is_a_violation() {
    let night = Night::default()
        .polls(4, &printing(Some(40.0)), KNOWN)
        .polls(8, &printing(Some(41.0)), UNKNOWN);
    assert_eq!(
        observed(&night.judge(verify_recorded_phases)),
        "phase unknown"
    );
    let hiccup = Night::default()
        .polls(4, &printing(Some(40.0)), KNOWN)
        .polls(2, &printing(Some(40.0)), UNKNOWN)
        .polls(4, &printing(Some(40.0)), KNOWN);
    assert!(is_held(&hiccup.judge(verify_recorded_phases)));
}

#[test]
fn the_last_answer_given_again_and_again_obliges_to_nothing() {
    let night = Night::default().polls(6, &printing(Some(40.0)), KNOWN);
    let again = |night: Night| {
        let nothing = Reading::default();
        night.again(6, printing(Some(40.0)), nothing, UNKNOWN)
    };
    let night = (0..8).fold(night, |night, _| again(night));
    assert!(is_held(&night.judge(verify_recorded_phases)));
}

#[test]
fn what_the_user_expects_of_one_exchange_is_to_be_said() {
    let expected = || Reading {
        phase: Some(Told::Value {
            value: vec![Phase::Error],
            slack: 0.0,
        }),
        ..Reading::default()
    };
    let of = |claim: &str| {
        let night = Night::default();
        (0..8).fold(night, |night, _| {
            night.again(1, printing(None), expected(), claim)
        })
    };
    let unknown = of(UNKNOWN).judge(verify_recorded_phases);
    // Nothing was claimed at all, which no rule about claims can judge.
    assert!(!matches!(unknown, Verdict::Held { .. }), "{unknown:?}");
    assert_eq!(
        observed(&of(KNOWN).judge(verify_recorded_phases)),
        "phase printing"
    );
    assert!(is_held(
        &of(r#"{"phase":"error"}"#).judge(verify_recorded_phases)
    ));
}

#[test]
fn what_the_dialect_cannot_read_accuses_nobody() {
    let night = Night::default()
        .polls(4, &printing(Some(40.0)), KNOWN)
        .polls(8, &unreadable(), r#"{"progress-percent":50}"#);
    assert!(is_held(&night.judge(verify_recorded_job)));
}

#[test]
fn old_data_has_to_fall_while_nothing_usable_comes() {
    let failing = Said::Unusable("its status is 500".to_owned());
    let night = |claim: &str| {
        Night::default()
            .polls(6, &printing(Some(40.0)), KNOWN)
            .polls(12, &failing, claim)
    };
    let held = night(UNKNOWN).judge(verify_old_data_falls);
    assert!(is_held(&held), "{held:?}");
    let kept = night(KNOWN).judge(verify_old_data_falls);
    assert!(
        observed(&kept).starts_with("it still claims what exchange 6 said"),
        "{kept:?}"
    );
    let silent = night("").judge(verify_old_data_falls);
    assert!(matches!(silent, Verdict::Violated(_)), "{silent:?}");
    let short = Night::default().polls(6, &printing(Some(40.0)), KNOWN);
    let short = short.judge(verify_old_data_falls);
    assert!(matches!(short, Verdict::NotJudged { .. }), "{short:?}");
}

#[test]
fn a_watcher_that_ends_or_says_nothing_has_not_followed() {
    let mut ended = Night::default().polls(6, &printing(Some(40.0)), KNOWN);
    ended.note(
        100,
        EventKind::Exited {
            status: "exit status: 1".to_owned(),
        },
    );
    assert!(observed(&ended.judge(verify_followed)).contains("exit status: 1"));
    let mute = Night::default().polls(6, &printing(Some(40.0)), "");
    assert_eq!(
        observed(&mute.judge(verify_followed)),
        "none after 6 of them"
    );
}
