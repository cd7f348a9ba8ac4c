//! Each rule with a trace that keeps it and traces that break it.

use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::{Simulation, Truth, VirtualTime};

use super::*;
use crate::event::{Event, EventKind};
use crate::watcher::Sighting;

mod asked_to_wait;
mod asking;
mod endurance;
mod secrecy;
mod while_down;

const SECOND: Duration = Duration::from_secs(1);

/// A watcher that asks and claims once a second: claims may rest on 2.25 s.
const TIMING: Timing = Timing {
    interval: SECOND,
    longest_interval: SECOND,
    longest_idle_interval: SECOND,
    longest_claim_gap: SECOND,
    harness_delay: Duration::ZERO,
};

/// Builds a run: one answer at each whole second, one claim 10 ms after it.
#[derive(Default)]
struct Run(Vec<Event>);

impl Run {
    fn note(mut self, at_ms: u64, kind: EventKind) -> Self {
        let at = Duration::from_millis(at_ms);
        self.0.push(Event { at, kind });
        self
    }

    fn answer(self, at_ms: u64, truth: &Arc<Truth>) -> Self {
        let truth = Arc::clone(truth);
        self.note(
            at_ms,
            EventKind::Answer {
                exchange: at_ms,
                status: 200,
                headers: Vec::new(),
                body: bytes::Bytes::new(),
                truth,
            },
        )
    }

    /// Adds a request whose exchange is numbered by its time.
    fn request(self, at_ms: u64, method: &str, target: &str, headers: &[(&str, &str)]) -> Self {
        let text = |(name, value): &(&str, &str)| ((*name).to_owned(), (*value).to_owned());
        self.note(
            at_ms,
            EventKind::Request {
                connection: at_ms,
                exchange: at_ms,
                method: method.to_owned(),
                target: target.to_owned(),
                headers: headers.iter().map(text).collect(),
                body: bytes::Bytes::new(),
            },
        )
    }

    fn get(self, at_ms: u64) -> Self {
        self.request(at_ms, "GET", "/printer", &[])
    }

    fn get_all(self, at_ms: impl IntoIterator<Item = u64>) -> Self {
        at_ms.into_iter().fold(self, Self::get)
    }

    /// Adds the answer to a request of a moment.
    fn status(self, at_ms: u64, exchange: u64, status: u16, headers: &[(&str, &str)]) -> Self {
        let text = |(name, value): &(&str, &str)| ((*name).to_owned(), (*value).to_owned());
        self.note(
            at_ms,
            EventKind::Answer {
                exchange,
                status,
                headers: headers.iter().map(text).collect(),
                body: bytes::Bytes::new(),
                truth: a_truth(),
            },
        )
    }

    fn trial(self, at_ms: u64, label: &str) -> Self {
        let label = label.to_owned();
        self.note(at_ms, EventKind::TrialBegan { label })
    }

    fn trial_ended(self, at_ms: u64) -> Self {
        self.note(at_ms, EventKind::TrialEnded)
    }

    fn raised(self, at_ms: u64) -> Self {
        let fault = "something".to_owned();
        let begun = Duration::from_millis(at_ms);
        self.note(at_ms, EventKind::FaultRaised { fault, begun })
    }

    fn cleared(self, at_ms: u64) -> Self {
        self.note(at_ms, EventKind::FaultCleared)
    }

    fn claim(self, at_ms: u64, line: &str) -> Self {
        let sighting = Sighting::from_line(line).expect("a sighting");
        self.note(at_ms, EventKind::Sighting(sighting))
    }

    /// Adds a second in which this is answered and that is claimed.
    fn poll(self, second: u64, truth: &Arc<Truth>, line: &str) -> Self {
        self.answer(second * 1000, truth)
            .claim(second * 1000 + 10, line)
    }

    fn judge(&self, verify: impl Fn(&Trace<'_>) -> Verdict) -> Verdict {
        verify(&Trace::new(&self.0, TIMING))
    }
}

fn truths(scenario: &str, seconds: impl IntoIterator<Item = u64>) -> Vec<Arc<Truth>> {
    let scenario = Scenario::builtin(scenario).unwrap().unwrap();
    let mut printer = Simulation::new(Arc::new(scenario), 1);
    let truth = |second| printer.truth_at(VirtualTime::new(Duration::from_secs(second)));
    seconds.into_iter().map(truth).map(Arc::new).collect()
}

/// Gives one truth for those that do not care which.
fn a_truth() -> Arc<Truth> {
    truths("heat-up", [300]).remove(0)
}

#[track_caller]
fn assert_not_judged(verdict: &Verdict) {
    assert!(matches!(verdict, Verdict::NotJudged { .. }), "{verdict:?}");
}

#[track_caller]
fn assert_held(verdict: &Verdict) {
    assert!(matches!(verdict, Verdict::Held { .. }), "{verdict:?}");
}

#[track_caller]
fn assert_violated(verdict: &Verdict, observed: &str) {
    match verdict {
        Verdict::Violated(violations) => assert_eq!(violations[0].observed, observed),
        other => panic!("{other:?}"),
    }
}

fn phase(word: &str) -> String {
    format!(r#"{{"phase":"{word}"}}"#)
}

fn told(words: &[&str]) -> Run {
    // Idle, heating, heating, printing, printing, printing.
    let truths = truths("heat-up", [10, 40, 100, 300, 310, 320]);
    let polls = (1..).zip(truths.iter().zip(words));
    polls.fold(Run::default(), |run, (second, (truth, word))| {
        run.poll(second, truth, &phase(word))
    })
}

#[test]
fn phases_told_as_they_were_served_are_right() {
    let run = told(&[
        "idle", "heating", "heating", "printing", "printing", "printing",
    ]);
    assert_held(&run.judge(verify_phases));
}

#[test]
fn a_phase_one_answer_old_is_right_and_two_intervals_old_is_not() {
    let late = told(&["idle", "idle", "heating", "heating", "printing", "printing"]);
    assert_held(&late.judge(verify_phases));
    let later = told(&["idle", "idle", "idle", "idle", "heating", "heating"]);
    assert_violated(&later.judge(verify_phases), "phase idle");
}

#[test]
fn a_word_that_is_no_phase_is_wrong() {
    let run = told(&["idle", "heating", "heating", "busy", "printing", "printing"]);
    assert_violated(&run.judge(verify_phases), "phase `busy`");
}

#[test]
fn one_claim_of_unknown_is_a_hiccup_and_unknown_for_ever_is_wrong() {
    let hiccup = told(&[
        "idle", "unknown", "heating", "printing", "unknown", "printing",
    ]);
    assert_held(&hiccup.judge(verify_phases));
    let never = told(&["unknown"; 6]);
    assert_violated(&never.judge(verify_phases), "phase unknown");
}

#[test]
fn a_watcher_that_falls_silent_is_held_to_its_last_claim() {
    let truths = truths("heat-up", [10, 40, 100, 300, 310, 320]);
    let silent = (2..).zip(&truths[1..]).fold(
        Run::default().poll(1, &truths[0], &phase("idle")),
        |run, (second, truth)| run.answer(second * 1000, truth),
    );
    assert_violated(&silent.judge(verify_phases), "phase idle");
}

#[test]
fn a_watcher_that_ends_by_itself_is_told_with_its_last_words() {
    let run = told(&["idle", "heating"])
        .note(
            2100,
            EventKind::Line {
                on_stderr: true,
                text: "TypeError: null".to_owned(),
            },
        )
        .note(
            2200,
            EventKind::Exited {
                status: "exit status: 1".to_owned(),
            },
        );
    let observed = "it ended by itself (exit status: 1), its last words: TypeError: null";
    assert_violated(&run.judge(verify_phases), observed);
}

#[test]
fn saying_nothing_at_all_is_not_a_pass() {
    let truths = truths("heat-up", [300, 310, 320]);
    let run = (1..).zip(&truths).fold(Run::default(), |run, (s, truth)| {
        run.answer(s * 1000, truth)
    });
    assert_violated(&run.judge(verify_phases), "none after 3 answers");
    let too_short = Run::default().answer(1000, &truths[0]);
    assert!(matches!(
        too_short.judge(verify_phases),
        Verdict::NotJudged { .. }
    ));
}

fn heaters(extruder: &str, platform: &str) -> String {
    format!(r#"{{"heaters":{{"extruder":{extruder},"platform":{platform}}}}}"#)
}

#[test]
fn temperatures_are_judged_by_heater_and_a_whole_number_may_be_rounded() {
    let truths = truths("heat-up", [100, 110, 120, 130]);
    let told = |round: fn(f64) -> f64, swapped: bool| {
        (1..)
            .zip(&truths)
            .fold(Run::default(), |run, (second, truth)| {
                let actual = |name: &str| {
                    format!(
                        r#"{{"actual-celsius":{}}}"#,
                        round(truth.heaters[name].actual_celsius.unwrap())
                    )
                };
                let (one, other) = (actual("extruder"), actual("platform"));
                let line = if swapped {
                    heaters(&other, &one)
                } else {
                    heaters(&one, &other)
                };
                run.poll(second, truth, &line)
            })
    };
    for round in [f64::floor, f64::round, |celsius: f64| {
        (celsius * 10.0).round() / 10.0
    }] {
        assert_held(&told(round, false).judge(verify_actual_temperatures));
    }
    let swapped = told(f64::round, true).judge(verify_actual_temperatures);
    assert!(matches!(swapped, Verdict::Violated(_)), "{swapped:?}");
}

#[test]
fn hot_is_not_on() {
    // Printing, then finished: still hot, switched off.
    let truths = truths("finished", [1130, 1135, 1140, 1145, 1150, 1155]);
    let told = |on_of: fn(&Truth) -> bool| {
        (1..)
            .zip(&truths)
            .fold(Run::default(), |run, (second, truth)| {
                let on = format!(r#"{{"on":{}}}"#, on_of(truth));
                run.poll(second, truth, &heaters(&on, &on))
            })
    };
    assert_held(&told(|truth| truth.heaters["extruder"].target_celsius > 0.0).judge(verify_on));
    let by_heat = told(|truth| truth.heaters["extruder"].actual_celsius.unwrap() > 50.0);
    assert_violated(&by_heat.judge(verify_on), "extruder on true");
}

#[test]
fn a_number_for_what_is_unknown_is_invented() {
    let truths = truths("heat-up", [40, 60, 80, 100]);
    let told = |value: &str| {
        let line = format!(r#"{{"remaining-seconds":{value}}}"#);
        (1..)
            .zip(&truths)
            .fold(Run::default(), |run, (s, truth)| run.poll(s, truth, &line))
    };
    let unknown = told("null").judge(verify_unknown_stays_unknown);
    assert!(matches!(unknown, Verdict::NotJudged { .. }), "{unknown:?}");
    assert_violated(
        &told("0").judge(verify_unknown_stays_unknown),
        "remaining-seconds 0",
    );
}

#[test]
fn progress_may_lie_between_two_answers_and_not_beside_them() {
    let truths = truths("heat-up", [300, 600, 900, 1200]);
    let percent = |at: usize| truths[at].job.as_ref().unwrap().progress_percent;
    let told = |offset: f64| {
        (1..)
            .zip(&truths)
            .enumerate()
            .fold(Run::default(), |run, (at, (second, truth))| {
                let line = format!(r#"{{"progress-percent":{}}}"#, percent(at) + offset);
                run.poll(second, truth, &line)
            })
    };
    let verify = |trace: &Trace<'_>| verify_number(trace, Quantity::Progress);
    assert_held(&told(0.0).judge(verify));
    assert_held(&told(-5.0).judge(|trace| {
        // Between the last two answers, 11 % apart; the first claim has only one.
        let later = Trace {
            sightings: trace.sightings[1..].to_vec(),
            ..Trace::new(trace.events, TIMING)
        };
        verify_number(&later, Quantity::Progress)
    }));
    assert!(matches!(told(5.0).judge(verify), Verdict::Violated(_)));
}

#[test]
fn a_finish_is_noticed_in_time_or_late_or_never() {
    let truths = truths("finished", (0..12).map(|second| 1130 + second));
    let told = |from: u64| {
        (1..)
            .zip(&truths)
            .fold(Run::default(), |run, (second, truth)| {
                run.poll(
                    second,
                    truth,
                    &phase(if second < from {
                        "printing"
                    } else {
                        "finished"
                    }),
                )
            })
    };
    // The first answer that says so is the one at 1137 s, in second 8.
    assert_held(&told(8).judge(verify_finish_noticed));
    assert_held(&told(10).judge(verify_finish_noticed));
    assert_violated(&told(11).judge(verify_finish_noticed), "3.0 s after it");
    assert_violated(&told(99).judge(verify_finish_noticed), "not in 4.0 s");
}

#[test]
fn a_watcher_that_slows_down_before_the_finish_asks_too_rarely() {
    let truths = truths("finished", [1130, 1140, 1141, 1142, 1143]);
    let run =
        [1, 9, 10, 11, 12]
            .into_iter()
            .zip(&truths)
            .fold(Run::default(), |run, (second, truth)| {
                run.poll(
                    second,
                    truth,
                    &phase(if second < 9 { "printing" } else { "finished" }),
                )
            });
    assert_violated(
        &run.judge(verify_finish_noticed),
        "none for 8.0 s around the finish",
    );
}

fn outage(during: &[(u64, &str)], after: &[(u64, &str)]) -> Verdict {
    let printing = &truths("heat-up", [600])[0];
    let mut run = (1..4).fold(Run::default(), |run, s| {
        run.poll(s, printing, &phase("printing"))
    });
    run = run.note(
        4000,
        EventKind::FaultRaised {
            fault: "refused".to_owned(),
            begun: Duration::from_secs(4),
        },
    );
    for (ms, word) in during {
        run = run.claim(*ms, &phase(word));
    }
    run = run.note(12_000, EventKind::FaultCleared);
    // The host is back and answers.
    let mut after = after.iter().peekable();
    for second in 13..40 {
        run = run.answer(second * 1000 - 10, printing);
        if let Some((ms, word)) = after.next_if(|(ms, _)| *ms == second * 1000) {
            run = run.claim(*ms, &phase(word));
        }
    }
    run.note(
        40_000,
        EventKind::Line {
            on_stderr: false,
            text: String::new(),
        },
    )
    .judge(verify_outage)
}

#[test]
fn unknown_during_an_outage_and_live_after_it_is_right() {
    assert_held(&outage(&[(5000, "unknown")], &[(13_000, "printing")]));
}

#[test]
fn an_old_claim_during_an_outage_is_wrong() {
    // Allowed: 2.25 s of freshness, two more polls, two seconds for a time-out.
    let still = outage(
        &[(5000, "printing"), (11_000, "unknown")],
        &[(13_000, "printing")],
    );
    let old = "phase printing, from before the fault: old data shown as live";
    assert_violated(&still, &format!("still {old}"));
    let silent = outage(&[], &[(13_000, "printing")]);
    assert_violated(&silent, &format!("still {old}"));
    let relapse = outage(
        &[(5000, "unknown"), (11_000, "printing")],
        &[(13_000, "printing")],
    );
    assert_violated(&relapse, old);
}

#[test]
fn no_recovery_or_a_late_one_is_wrong() {
    assert_violated(
        &outage(&[(5000, "unknown")], &[(13_000, "unknown")]),
        "not in 28.0 s",
    );
    // Allowed: the outage's 8 s and the 6.25 s as before.
    assert_violated(
        &outage(&[(5000, "unknown")], &[(27_000, "printing")]),
        "after 15.0 s",
    );
}

/// A printer in error, once a second, with what the watcher says of it.
fn in_error(reasons: [&str; 6]) -> Run {
    let truths = truths("error", [900, 901, 902, 903, 904, 905]);
    assert_eq!(truths[0].phase, coldbed_mock::sim::Phase::Error);
    let polls = (1..).zip(truths.iter().zip(reasons));
    polls.fold(Run::default(), |run, (second, (truth, reason))| {
        run.poll(
            second,
            truth,
            &format!(r#"{{"phase":"error","reason":{reason}}}"#),
        )
    })
}

#[test]
fn a_reason_that_was_served_is_right_and_another_or_none_at_all_is_not() {
    let served = truths("error", [900])[0].printer.reasons[0].clone();
    let quoted = format!("\"{served}\"");
    assert_held(&in_error([&quoted; 6]).judge(verify_reasons));
    let guessed = in_error(["\"material-empty\""; 6]).judge(verify_reasons);
    assert_violated(&guessed, "reason `material-empty`");
    // Four answers may be pending only at the fourth.
    let timing_wide = Timing {
        longest_interval: 3 * SECOND,
        ..TIMING
    };
    let silent = in_error(["null"; 6]);
    let verdict = verify_reasons(&Trace::new(&silent.0, timing_wide));
    assert_violated(&verdict, "no reason");
}

fn named(names: [&str; 4]) -> Run {
    let truths = truths("heat-up", [300, 301, 302, 303]);
    let polls = (1..).zip(truths.iter().zip(names));
    polls.fold(Run::default(), |run, (second, (truth, name))| {
        run.poll(second, truth, &format!(r#"{{"job-name":{name}}}"#))
    })
}

#[test]
fn the_name_that_was_served_is_right_and_a_mangled_one_is_not() {
    assert_held(&named(["\"cable-clip\""; 4]).judge(verify_job_names));
    assert_violated(
        &named(["\"cable-cl\""; 4]).judge(verify_job_names),
        "job-name `cable-cl`",
    );
}

fn called_safe(second: u64, safe: bool) -> Run {
    let truths = truths("finished", [second, second + 1, second + 2]);
    let polls = (1..).zip(&truths);
    polls.fold(Run::default(), |run, (at, truth)| {
        run.poll(at, truth, &format!(r#"{{"safe-to-touch":{safe}}}"#))
    })
}

#[test]
fn a_hot_part_whose_heater_is_off_is_not_safe_and_a_cold_one_may_be() {
    // The job of `finished` ends after some 19 minutes; 50 minutes later everything is cold.
    assert_violated(
        &called_safe(1260, true).judge(verify_safe),
        &format!(
            "safe to touch at {:.1} C",
            truths("finished", [1260])[0].heaters["extruder"]
                .actual_celsius
                .unwrap()
        ),
    );
    assert_held(&called_safe(1260, false).judge(verify_safe));
    assert_held(&called_safe(4100, true).judge(verify_safe));
}

#[test]
fn a_heater_that_is_not_there_has_no_temperature_and_one_never_named_is_not_missed() {
    let scenario = crate::check::scenario("one-heater");
    let mut printer = Simulation::new(scenario, 1);
    let truth = Arc::new(printer.truth_at(VirtualTime::new(10 * SECOND)));
    let seen = |platform: &str| {
        let line = format!(
            r#"{{"heaters":{{"extruder":{{"actual-celsius":{}}}{platform}}}}}"#,
            truth.heaters["extruder"].actual_celsius.unwrap()
        );
        (1..5).fold(Run::default(), |run, second| {
            run.poll(second, &truth, &line)
        })
    };
    assert_held(&seen("").judge(verify_heaters));
    let invented = seen(r#","platform":{"actual-celsius":0}"#);
    assert_violated(&invented.judge(verify_heaters), "platform 0");
    let hedged = seen(r#","platform":{"actual-celsius":null}"#);
    assert_held(&hedged.judge(verify_heaters));
}
