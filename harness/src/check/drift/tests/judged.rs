//! What is said of a careful reader and of careless ones.

use coldbed_mock::dialect::Quantity;
use coldbed_mock::drift::{Change, Drift, DriftClass, generate};
use coldbed_mock::sim::Phase;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::{Map, Value, json};

use super::super::{Check, Context, Plan, Step, checks, scene, spots};
use super::plans::context;
use super::rehearsal::{Reader, judged};
use crate::check::Level;
use crate::oracle::{Tried, Verdict, verify_drifts};
use crate::reference::line_of;

/// Takes whatever can be read, piece by piece, as the reference watcher does; reasons that cannot be
/// read make it doubt the phase, and what cannot be is not shown.
fn careful(body: &[u8]) -> Option<String> {
    let mut seen: Value = serde_json::from_str(&line_of(body)).unwrap();
    let printer: Value = serde_json::from_slice(body).unwrap_or_default();
    let is_read = printer["printer-state-reasons"].is_array();
    if !is_read && printer["job"]["job-state"] == "processing" {
        seen["phase"] = json!("unknown");
    }
    let limit = |value: &mut Value, from: f64, to: f64| {
        if value
            .as_f64()
            .is_some_and(|number| number < from || number > to)
        {
            *value = Value::Null;
        }
    };
    limit(&mut seen["progress-percent"], 0.0, 100.0);
    limit(&mut seen["elapsed-seconds"], 0.0, f64::MAX);
    limit(&mut seen["remaining-seconds"], 0.0, f64::MAX);
    for heater in seen["heaters"].as_object_mut().unwrap().values_mut() {
        limit(&mut heater["actual-celsius"], -273.15, f64::MAX);
    }
    Some(seen.to_string())
}

/// Keeps the last value of whatever is unknown now.
fn cached() -> impl FnMut(&[u8]) -> Option<String> {
    let mut last = json!({});
    move |body| {
        let new: Value = serde_json::from_str(&line_of(body)).unwrap();
        merge(&mut last, new);
        Some(last.to_string())
    }
}

fn merge(last: &mut Value, new: Value) {
    match (last, new) {
        (Value::Object(last), Value::Object(new)) => {
            for (name, value) in new {
                merge(last.entry(name).or_insert(Value::Null), value);
            }
        }
        (_, Value::Null) => {}
        (last, Value::String(word)) if word == "unknown" && !last.is_null() => {}
        (last, new) => *last = new,
    }
}

/// Shows 0 for each number that is unknown.
fn zero(body: &[u8]) -> Option<String> {
    let mut seen: Value = serde_json::from_str(&line_of(body)).unwrap();
    fn fill(members: &mut Map<String, Value>) {
        for value in members.values_mut() {
            match value {
                Value::Null => *value = json!(0),
                Value::Object(members) => fill(members),
                _ => {}
            }
        }
    }
    fill(seen.as_object_mut().unwrap());
    Some(seen.to_string())
}

/// Goes on showing the last body that could be read.
fn last_good() -> impl FnMut(&[u8]) -> Option<String> {
    let mut last = None;
    move |body| {
        if serde_json::from_slice::<Map<String, Value>>(body).is_ok() {
            last = careful(body);
        }
        last.clone()
    }
}

/// Ends at the first body that it cannot read.
fn brittle(body: &[u8]) -> Option<String> {
    serde_json::from_slice::<Map<String, Value>>(body).ok()?;
    careful(body)
}

fn verdict_of(check: &Check, context: &Context, reader: &mut Reader<'_>) -> Verdict {
    let plan = (check.plan)(context).unwrap_or_else(|why| panic!("{}: {}", check.id, why.0));
    judged(context, &plan, reader, check.oracle)
}

fn caught_by(make: impl Fn() -> Box<Reader<'static>>) -> Vec<&'static str> {
    let context = context("plain", "/printer", 1);
    checks()
        .iter()
        .filter(|check| {
            let verdict = verdict_of(check, &context, &mut *make());
            matches!(verdict, Verdict::Violated(_))
        })
        .map(|check| check.id)
        .collect()
}

#[test]
fn a_careful_reader_is_accused_of_nothing() {
    let accused = caught_by(|| Box::new(careful));
    assert!(accused.is_empty(), "{accused:?}");
}

#[test]
fn every_trial_of_a_careful_reader_is_judged() {
    let context = context("plain", "/printer", 1);
    for check in checks() {
        match verdict_of(&check, &context, &mut careful) {
            Verdict::Held { note } => assert!(!note.contains("not judged"), "{}: {note}", check.id),
            other => panic!("{}: {other:?}", check.id),
        }
    }
}

#[test]
fn values_kept_from_before_are_caught_wherever_they_are_kept() {
    let caught = caught_by(|| Box::new(cached()));
    for id in [
        "null-target-survived",
        "null-heater-is-unknown",
        "missing-job-is-unknown",
        "renamed-heater-is-unknown",
        "unknown-state-word-is-unknown",
        "number-as-text-not-misread",
        "empty-body-is-unknown",
        "cut-body-not-believed",
    ] {
        assert!(caught.contains(&id), "{id} {caught:?}");
    }
}

#[test]
fn zero_for_unknown_is_caught() {
    let caught = caught_by(|| Box::new(zero));
    for id in [
        "null-target-survived",
        "null-job-is-unknown",
        "missing-heater-is-unknown",
        "text-for-number-is-unknown",
        "no-json-number-survived",
    ] {
        assert!(caught.contains(&id), "{id} {caught:?}");
    }
}

#[test]
fn the_last_good_body_shown_for_a_bad_one_is_caught() {
    let caught = caught_by(|| Box::new(last_good()));
    for id in [
        "empty-body-is-unknown",
        "other-json-is-unknown",
        "cut-body-not-believed",
        "trailing-comma-survived",
        "page-instead-of-json-survived",
        "deep-nesting-survived",
    ] {
        assert!(caught.contains(&id), "{id} {caught:?}");
    }
}

#[test]
fn a_reader_that_ends_is_caught_text_by_text() {
    let context = context("plain", "/printer", 1);
    let check = checks()
        .into_iter()
        .find(|check| check.id == "json-corpus-survived-numbers")
        .unwrap();
    match verdict_of(&check, &context, &mut brittle) {
        Verdict::Violated(violations) => {
            assert!(violations.len() > 8, "{violations:?}");
            assert!(violations[0].subject.as_ref().unwrap().contains("at"));
            let observed = "it ended by itself (exit status: 1)";
            assert_eq!(violations[0].observed, observed);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn silence_under_a_drift_is_held_to_the_last_claim() {
    let context = context("plain", "/printer", 1);
    let check = checks()
        .into_iter()
        .find(|check| check.id == "cut-body-not-believed")
        .unwrap();
    let mut silent = |body: &[u8]| {
        let is_whole = serde_json::from_slice::<Value>(body).is_ok();
        is_whole
            .then(|| line_of(body))
            .or(Some("no answer".to_owned()))
    };
    match verdict_of(&check, &context, &mut silent) {
        Verdict::Violated(violations) => assert_eq!(
            violations[0].observed,
            "phase finished, as it was before the change"
        ),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_compatible_drift_that_makes_everything_unknown_is_caught_and_one_that_is_read_is_not() {
    let context = context("plain", "/printer", 1);
    let check = checks()
        .into_iter()
        .find(|check| check.id == "large-body-read")
        .unwrap();
    let mut small = |body: &[u8]| careful(&body[..body.len().min(4096)]);
    match verdict_of(&check, &context, &mut small) {
        Verdict::Violated(violations) => {
            assert_eq!(violations[0].allowed, "phase printing");
            assert_eq!(violations[0].observed, "unknown over 5 answers");
        }
        other => panic!("{other:?}"),
    }
    let held = verdict_of(&check, &context, &mut careful);
    assert!(matches!(held, Verdict::Held { .. }), "{held:?}");
}

#[test]
fn a_number_lost_for_good_is_seen_at_the_end() {
    let context = context("plain", "/printer", 1);
    let check = checks()
        .into_iter()
        .find(|check| check.id == "byte-order-mark-survived")
        .unwrap();
    let mut is_lost = false;
    let mut losing = |body: &[u8]| {
        is_lost |= serde_json::from_slice::<Value>(body).is_err();
        let mut seen: Value = serde_json::from_str(&line_of(body)).unwrap();
        if is_lost {
            seen["progress-percent"] = Value::Null;
        }
        Some(seen.to_string())
    };
    match verdict_of(&check, &context, &mut losing) {
        Verdict::Violated(violations) => {
            assert_eq!(violations[0].subject.as_deref(), Some("after all of them"));
        }
        other => panic!("{other:?}"),
    }
}

fn runner(cases: u32) -> TestRunner {
    TestRunner::new(Config {
        cases,
        failure_persistence: None,
        ..Config::default()
    })
}

/// Makes a trial of any drift: into the next job, and away from it.
fn any_trial(drift: &Drift) -> (Plan, Tried) {
    let visit = |from| Step::Visit {
        from: Some(from),
        per_poll: std::time::Duration::ZERO,
        answers: 2,
    };
    let label = drift.explain();
    let steps = vec![
        Step::RaiseDrift(drift.clone()),
        visit(scene::moment(scene::Scene::Printing, 1)),
        Step::ClearDrifts,
        visit(scene::finished(1)),
    ];
    let trial = Step::Trial {
        label: label.clone(),
        steps,
    };
    let at_or_under =
        |place: &str| place == drift.pointer || place.starts_with(&format!("{}/", drift.pointer));
    // Where another value is put it may be one that can be believed.
    let is_other_value = matches!(
        drift.change,
        Change::ReplaceValue(_)
            | Change::Scale(_)
            | Change::HugeNumber(_)
            | Change::DuplicateMember(_)
            | Change::Garbage(_)
            | Change::Corpus(_)
            | Change::LoneSurrogate(_)
    );
    let context = context("plain", "/printer", 1);
    let dialect = context.dialect.first();
    let truth = scene::printing();
    let mut spared = Vec::new();
    for quantity in [
        Quantity::Progress,
        Quantity::Elapsed,
        Quantity::Remaining,
        Quantity::JobName,
        Quantity::Actual("extruder".to_owned()),
        Quantity::Actual("platform".to_owned()),
        Quantity::Target("extruder".to_owned()),
        Quantity::Target("platform".to_owned()),
    ] {
        let places = dialect.places_at(&quantity, truth, |path| path == "/printer");
        if is_other_value && places.iter().any(|place| at_or_under(place)) {
            if let Quantity::Target(heater) = &quantity {
                spared.push(Quantity::On(heater.clone()));
            }
            spared.push(quantity);
        }
    }
    let tried = Tried {
        label,
        class: fair_class(drift),
        drifts: vec![drift.clone()],
        spared,
        // Without a job, or with null for it, a printer may be read as idle.
        also: match at_or_under("/job") {
            true => vec![Phase::Idle, Phase::Heating],
            false => Vec::new(),
        },
        is_brief: false,
    };
    (Plan::of([visit(scene::finished(0)), trial]), tried)
}

/// Gives the class a drift is judged as. A reason that is no text is nothing a host may add without
/// saying so, though JSON lets an array have it: not to read the reasons then is fair.
fn fair_class(drift: &Drift) -> DriftClass {
    let body = spots::bodies(&context("plain", "/printer", 1)).swap_remove(0);
    let mut drifted = body.clone();
    let reasons = |body: &Value| body.pointer("/printer-state-reasons").cloned();
    let is_read = drift.apply(&mut drifted).is_err()
        || reasons(&drifted) == reasons(&body)
        || reasons(&drifted)
            .and_then(|reasons| reasons.as_array().cloned())
            .is_some_and(|reasons| reasons.iter().all(Value::is_string));
    match drift.class {
        DriftClass::Compatible if !is_read => DriftClass::Breaking,
        class => class,
    }
}

/// Tells whether any trial of a drift breaks the rule for a reader.
fn is_accused(drift: &Drift, reader: &mut Reader<'_>) -> Verdict {
    let context = context("plain", "/printer", 1);
    let (plan, tried) = any_trial(drift);
    judged(&context, &plan, reader, |trace, _| {
        verify_drifts(trace, std::slice::from_ref(&tried))
    })
}

#[test]
fn whatever_drifts_a_careful_reader_is_never_accused() {
    let body = spots::bodies(&context("plain", "/printer", 1)).swap_remove(0);
    let mut runner = runner(192);
    runner
        .run(&generate::drifts(&body), |drift| {
            let verdict = is_accused(&drift, &mut careful);
            prop_assert!(!matches!(verdict, Verdict::Violated(_)), "{verdict:?}");
            Ok(())
        })
        .unwrap();
}

#[test]
fn whatever_makes_a_body_unreadable_a_reader_that_keeps_the_last_one_is_accused() {
    let body = spots::bodies(&context("plain", "/printer", 1)).swap_remove(0);
    let mut runner = runner(48);
    let unreadable = generate::drifts_of(&body, DriftClass::Hostile).prop_filter("readable", {
        let body = body.clone();
        move |drift| {
            let Ok(bytes) = drift.spell(&body) else {
                return false;
            };
            serde_json::from_slice::<Map<String, Value>>(&bytes).is_err()
        }
    });
    runner
        .run(&unreadable, |drift| {
            let verdict = is_accused(&drift, &mut last_good());
            prop_assert!(matches!(verdict, Verdict::Violated(_)), "{verdict:?}");
            Ok(())
        })
        .unwrap();
}

#[test]
fn only_the_check_of_impossible_values_is_no_must() {
    let should = checks()
        .into_iter()
        .filter(|check| check.level == Level::Should);
    let ids: Vec<&str> = should.map(|check| check.id).collect();
    assert_eq!(ids, ["impossible-value-not-shown"]);
}
