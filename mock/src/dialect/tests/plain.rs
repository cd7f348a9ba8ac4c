//! The built-in dialect, body by body.

use std::sync::Arc;

use http::{HeaderMap, Method, StatusCode};
use serde_json::Value;

use super::shown_at;
use crate::dialect::{Access, Dialect, DialectFile, Problem, Request, Routed, sample};
use crate::sim::{Command, Phase, Refused, Truth};

fn plain() -> Arc<Dialect> {
    Dialect::builtin("plain").unwrap()
}

fn body(dialect: &Dialect, path: &str, truth: &Truth) -> (StatusCode, Value) {
    let answer = dialect.render_answer(&shown_at(dialect, path), truth);
    (answer.status, serde_json::from_slice(&answer.body).unwrap())
}

/// Gives what a path shows in every sample.
fn in_every_phase(path: &str) -> String {
    let dialect = plain();
    let mut text = String::new();
    for sample in sample::samples() {
        let (status, body) = body(&dialect, path, &sample.truth);
        text.push_str(&format!("## {}: {status}\n{body:#}\n\n", sample.name));
    }
    text
}

#[test]
fn the_printer_in_every_phase() {
    insta::assert_snapshot!(in_every_phase("/printer"));
}

#[test]
fn the_job_in_every_phase() {
    insta::assert_snapshot!(in_every_phase("/job"));
}

#[test]
fn the_heaters_and_a_strange_one() {
    let dialect = plain();
    let truth = &sample::samples()[0].truth;
    let mut text = String::new();
    for name in ["extruder", "platform", "chamber", "bedroom"] {
        let (status, body) = body(&dialect, &format!("/heaters/{name}"), truth);
        text.push_str(&format!("## {name}: {status}\n{body:#}\n\n"));
    }
    insta::assert_snapshot!(text);
}

#[test]
fn an_answer_byte_for_byte() {
    let dialect = plain();
    let truth = &sample::samples()[3].truth;
    let answer = dialect.render_answer(&shown_at(&dialect, "/job"), truth);
    insta::assert_snapshot!(format!(
        "{}\n{:#?}\n{}",
        answer.status,
        answer.headers,
        String::from_utf8(answer.body.to_vec()).unwrap()
    ));
}

#[test]
fn the_stream_shows_the_same_object_as_the_printer() {
    let dialect = plain();
    for sample in sample::samples() {
        let stream = dialect
            .render(&shown_at(&dialect, "/printer/events"), &sample.truth)
            .unwrap();
        let printer = dialect
            .render(&shown_at(&dialect, "/printer"), &sample.truth)
            .unwrap();
        assert_eq!(stream, printer, "{}", sample.name);
    }
}

#[test]
fn no_reason_is_the_keyword_none_alone_rfc_8011_s5_4_12() {
    let dialect = plain();
    for sample in sample::samples() {
        let (_, body) = body(&dialect, "/printer", &sample.truth);
        let expected = if sample.truth.printer.reasons.is_empty() {
            vec!["none".to_owned()]
        } else {
            sample.truth.printer.reasons.clone()
        };
        assert_eq!(body["printer-state-reasons"], serde_json::json!(expected));
    }
}

#[test]
fn a_field_has_one_number_form_whatever_its_value() {
    let dialect = plain();
    let mut truth = sample::samples()[3].truth.clone();
    for (celsius, written) in [
        (210.0, "210.0"),
        (209.96, "210.0"),
        (21.25, "21.3"),
        (-0.01, "0.0"),
        (f64::NAN, "null"),
        (f64::INFINITY, "null"),
    ] {
        truth.heaters["extruder"].actual_celsius = Some(celsius);
        let answer = dialect.render_answer(&shown_at(&dialect, "/heaters/extruder"), &truth);
        let text = String::from_utf8(answer.body.to_vec()).unwrap();
        let expected = format!("{{\"actual-celsius\":{written},\"target-celsius\":210.0}}");
        assert_eq!(text, expected);
    }
}

/// Gives the version after an update.
fn updated() -> Arc<Dialect> {
    Arc::clone(&DialectFile::builtin("plain").unwrap().versions()[1])
}

#[test]
fn a_dialect_begins_with_its_first_version() {
    let file = DialectFile::builtin("plain").unwrap();
    assert_eq!(file.first().version(), "1.0");
    assert_eq!(file.versions().len(), 2);
    assert_eq!(updated().version(), "1.1");
}

#[test]
fn the_update_changes_names_units_and_places_and_keeps_the_values() {
    let (before, after) = (plain(), updated());
    for sample in sample::samples() {
        let (_, old) = body(&before, "/printer", &sample.truth);
        let (_, new) = body(&after, "/printer", &sample.truth);
        for same in ["printer-state", "printer-up-time"] {
            assert_eq!(old[same], new[same], "{}", sample.name);
        }
        assert_eq!(old["job"]["job-state"], new["job"]["job-state"]);
        let gone = [
            &new["job"]["progress-percent"],
            &new["job"]["remaining-seconds"],
        ];
        assert!(gone.iter().all(|gone| gone.is_null()), "{}", sample.name);
        assert_eq!(
            old["job"]["progress-percent"],
            new["job"]["progress"]["percent"]
        );
        let seconds = old["job"]["remaining-seconds"].as_f64();
        let minutes = new["job"]["remaining-minutes"].as_i64();
        // Rounded up from seconds that the older one rounds: 840.4 s are 840 s and 15 minutes.
        assert_eq!(seconds, minutes.map(|_| 840.0));
        assert_eq!(minutes, seconds.map(|_| 15));
    }
    let truth = &sample::samples()[4].truth;
    let (_, old) = body(&before, "/heaters/extruder", truth);
    let (status, new) = body(&after, "/printer/heaters/extruder", truth);
    assert_eq!(status, 200);
    assert_eq!(old["actual-celsius"], new["actual-celsius"]);
    let request = |dialect: &Dialect, path: &str| super::route(dialect, &Method::GET, path);
    let refused = |routed| matches!(routed, Routed::Answer(answer) if answer.status == 404);
    assert!(refused(request(&after, "/heaters/extruder")));
    assert!(refused(request(&before, "/printer/heaters/extruder")));
}

#[test]
fn commands_are_read_where_the_file_says() {
    let dialect = plain();
    let command = |method: &Method, path: &str, body: &str| {
        let request = Request {
            method,
            path,
            query: None,
            headers: &HeaderMap::new(),
            body: body.as_bytes(),
        };
        let Routed::Command(matched) = dialect.route(&request, &Access::OPEN) else {
            panic!("{path} is no command")
        };
        let truth = &sample::samples()[0].truth;
        let order = dialect.order(&matched, &request, truth);
        order.map(|order| order.command)
    };
    let post = Method::POST;
    assert_eq!(command(&post, "/job/pause", ""), Ok(Command::PauseJob));
    assert_eq!(command(&post, "/job/resume", "{"), Ok(Command::ResumeJob));
    assert_eq!(command(&post, "/job/cancel", "[]"), Ok(Command::CancelJob));
    assert_eq!(
        command(
            &Method::PUT,
            "/heaters/my%20heater/target",
            "{\"target-celsius\": 6e1}"
        ),
        Ok(Command::SetTarget {
            heater: "my heater".to_owned(),
            celsius: 60.0
        })
    );
}

#[test]
fn what_the_printer_refuses_has_a_status_of_its_own_rfc_9110_s15_5() {
    for (refused, status) in [
        (
            Refused::WrongPhase {
                wanted: "pause the job",
                phase: Phase::Idle,
            },
            409,
        ),
        (
            Refused::UnknownHeater {
                name: "bedroom".to_owned(),
            },
            404,
        ),
        (
            Refused::UnknownJob {
                name: "teapot".to_owned(),
            },
            404,
        ),
        (Refused::NoJob, 404),
        (
            Refused::TargetOutOfRange {
                celsius: 999.0,
                max_celsius: 290.0,
            },
            422,
        ),
    ] {
        let problem = Problem::from(&refused);
        assert_eq!(problem.status.as_u16(), status);
        assert_eq!(problem.detail, refused.to_string());
    }
}

#[test]
fn an_unknown_name_is_answered_with_a_list_and_a_hint() {
    let error = Dialect::builtin("plian").unwrap_err();
    assert_eq!(
        error.to_string(),
        "plian: dialect: `plian` is not a built-in dialect (plain, senml, flat, nested) (did you mean `plain`?)"
    );
}
