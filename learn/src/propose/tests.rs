//! Sessions of hosts whose dialect is known, and what is proposed for them.

use std::time::Duration;

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::{Simulation, VirtualTime};
use coldbed_session::{Session, SessionFile};
use serde_json::{Value, json};

use super::*;

/// Asks each route of a dialect that shows JSON every five seconds, as a recorder would have written it.
fn recorded(dialect: &DialectFile, scenario: &str, hours: f64, every_s: f64) -> Session {
    let scenario = Scenario::builtin(scenario).unwrap().unwrap();
    let mut printer = Simulation::new(std::sync::Arc::new(scenario), 1);
    let mut lines = vec![
        json!({ "line": "session", "version": 1 }),
        json!({ "line": "connection-opened", "at-seconds": 0, "connection": 1 }),
    ];
    let mut number = 0;
    let count = (hours * 3600.0 / every_s) as u32;
    for poll in 0..count {
        let at = f64::from(poll) * every_s;
        let truth = printer.truth_at(VirtualTime::new(Duration::from_secs_f64(at)));
        for shown in dialect.first().preview(&truth) {
            let Some(path) = shown.route.strip_prefix("GET ") else {
                continue;
            };
            // A stream is no body, and what a path may not hold was no path.
            if ["events", "live", "{", " "]
                .iter()
                .any(|part| path.contains(part))
            {
                continue;
            }
            let Ok(body) = serde_json::from_str::<Value>(&shown.text) else {
                continue;
            };
            number += 1;
            lines.push(json!({ "line": "request", "at-seconds": at, "connection": 1, "exchange": number,
                "method": "GET", "target": path, "fields": [["Authorization", "Bearer r1xxxxxx"]] }));
            lines.push(json!({ "line": "answer", "at-seconds": at, "exchange": number, "status": 200, "reason": "OK",
                "fields": [["Content-Type", "application/json"]], "body": { "text": body.to_string() },
                "framing": "length", "pieces": [], "end": "complete" }));
        }
    }
    let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
    SessionFile::read(&text).unwrap().session
}

/// Gives what each leaf was taken for, and the questions with a mark.
fn told(proposal: &Proposal) -> String {
    let mut text = String::new();
    for route in &proposal.routes {
        text.push_str(&format!("{}\n", route.path));
        for leaf in &route.leaves {
            if let Some(guess) = &leaf.guess {
                let mark = if leaf.is_sure() { " " } else { "?" };
                let line = format!(
                    "{mark} {}: {:?} {:?} {:?}\n",
                    leaf.pointer, guess.meaning, guess.unit, guess.form
                );
                text.push_str(&line);
            }
        }
        for (pointer, words) in &route.words {
            let words: Vec<String> = words
                .by_phase
                .iter()
                .map(|(phase, (word, ..))| format!("{phase}={word}"))
                .collect();
            text.push_str(&format!("  words of {pointer}: {}\n", words.join(" ")));
        }
    }
    text
}

/// Gives what a dialect shows on a path at a truth.
fn shown(dialect: &DialectFile, path: &str, truth: &coldbed_mock::sim::Truth) -> Option<Value> {
    let wanted = format!("GET {path}");
    let all = dialect.first().preview(truth);
    let found = all.iter().find(|shown| shown.route == wanted)?;
    serde_json::from_str(&found.text).ok()
}

fn learned(name: &str) -> (DialectFile, Session, Proposal, DialectFile) {
    let dialect = DialectFile::builtin(name).unwrap();
    let session = recorded(&dialect, "two-jobs", 1.5, 5.0);
    let proposal = propose(&session);
    let again = DialectFile::parse("learned.toml", &proposal.dialect)
        .unwrap_or_else(|error| panic!("{error}\n{}", proposal.dialect));
    (dialect, session, proposal, again)
}

#[test]
fn of_three_hosts_the_quantities_are_found_with_units_forms_and_words() {
    for name in ["plain", "flat", "nested"] {
        let (_, _, proposal, _) = learned(name);
        insta::assert_snapshot!(format!("{name}"), told(&proposal));
    }
}

#[test]
fn a_proposal_is_a_dialect_file_with_evidence_and_questions() {
    let (_, _, proposal, _) = learned("nested");
    insta::assert_snapshot!(proposal.dialect);
}

/// What is served with a learned dialect has the structure that was recorded, also in phases that were not.
#[test]
fn what_is_learned_shows_other_scenarios_in_the_structure_that_was_recorded() {
    for name in ["plain", "flat", "nested"] {
        let (_, session, proposal, again) = learned(name);
        for route in &proposal.routes {
            let bodies: Vec<Value> = (session.exchanges.iter())
                .filter(|exchange| exchange.request.path() == route.path)
                .map(|exchange| {
                    serde_json::from_str(exchange.answer().unwrap().body().unwrap().text().unwrap())
                        .unwrap()
                })
                .collect();
            let validator = jsonschema::validator_for(&schema(&bodies)).unwrap();
            assert!(
                bodies.iter().all(|body| validator.is_valid(body)),
                "{name} {}",
                route.path
            );
            for scenario in ["error", "paused", "cancelled", "heat-up"] {
                let scenario = Scenario::builtin(scenario).unwrap().unwrap();
                let mut printer = Simulation::new(std::sync::Arc::new(scenario), 1);
                for at in (0..1200).step_by(60) {
                    let truth = printer.truth_at(VirtualTime::new(Duration::from_secs(at)));
                    let Some(body) = shown(&again, &route.path, &truth) else {
                        assert!(route.is_of_job, "{name} {}", route.path);
                        continue;
                    };
                    let errors: Vec<String> = validator
                        .iter_errors(&body)
                        .map(|error| format!("{}: {error}", error.instance_path))
                        .collect();
                    assert!(
                        errors.is_empty(),
                        "{name} {} at {at} s: {errors:?}\n{body:#}",
                        route.path
                    );
                }
            }
        }
    }
}

/// Where a leaf is sure, the learned dialect shows the same as the host does.
#[test]
fn what_is_sure_is_shown_as_the_host_shows_it() {
    for name in ["plain", "flat", "nested"] {
        let (dialect, _, proposal, again) = learned(name);
        let scenario = Scenario::builtin("two-jobs").unwrap().unwrap();
        let mut printer = Simulation::new(std::sync::Arc::new(scenario), 7);
        let mut compared = 0;
        for at in (100..4000).step_by(130) {
            let truth = printer.truth_at(VirtualTime::new(Duration::from_secs(at)));
            for route in &proposal.routes {
                let (Some(one), Some(other)) = (
                    shown(&dialect, &route.path, &truth),
                    shown(&again, &route.path, &truth),
                ) else {
                    continue;
                };
                let sure = route.leaves.iter().filter(|leaf| leaf.is_sure());
                for leaf in sure {
                    let (one, other) = (one.pointer(&leaf.pointer), other.pointer(&leaf.pointer));
                    assert_eq!(
                        one, other,
                        "{name} {} {} at {at} s",
                        route.path, leaf.pointer
                    );
                    compared += 1;
                }
            }
        }
        assert!(compared > 200, "{name}: {compared}");
    }
}

#[test]
fn a_session_that_shows_too_little_leads_to_questions_and_to_no_guess() {
    let dialect = DialectFile::builtin("plain").unwrap();
    let session = recorded(&dialect, "two-jobs", 0.02, 5.0);
    let proposal = propose(&session);
    let sure = proposal
        .routes
        .iter()
        .flat_map(|route| &route.leaves)
        .filter(|leaf| leaf.is_sure());
    assert_eq!(sure.count(), 0);
    assert!(proposal.questions > 3, "{}", proposal.dialect);
    DialectFile::parse("learned.toml", &proposal.dialect).unwrap();
}

#[test]
fn an_empty_session_gives_a_file_that_says_so() {
    let proposal = propose(&Session::default());
    assert!(proposal.routes.is_empty());
}

#[test]
fn the_heaters_behind_a_recorded_host_are_found() {
    let (_, _, proposal, _) = learned("plain");
    let readings = &proposal.routes[0].readings;
    let fits: Vec<(&str, crate::thermal::HeaterFit)> = (readings.iter())
        .map(|(name, readings)| (name.as_str(), crate::thermal::fit(readings)))
        .collect();
    let file = printer(
        fits.iter().map(|(name, fit)| (*name, fit)),
        NominalWatts::default(),
    );
    insta::assert_snapshot!(file);
    // 20 J/K over 0.12 W/K, and 700 J/K over 1.6 W/K: what the scenario's printer has.
    for (name, tau) in [("extruder", 166.7), ("platform", 437.5)] {
        let fit = &fits.iter().find(|(known, _)| *known == name).unwrap().1;
        let found = fit.time_constant_s.estimate().unwrap().value;
        assert!((found / tau - 1.0).abs() < 0.1, "{name}: {found}");
    }
    let scenario =
        format!("title = \"learned\"\nlength = \"10m\"\n{file}\n[[event]]\nat = \"1m\"\n");
    assert!(scenario.contains("[heaters.platform]"));
}
