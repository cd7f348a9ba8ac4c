//! A watcher judged on a recorded session, by what a dialect reads in it and by what its user expects.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Output;

use serde_json::{Value, json};

use crate::common::{coldbed, run, stderr, stdout};
use crate::watchers::python_with;

/// Is what the invented host said at one poll.
#[derive(Clone, Copy)]
enum Poll {
    Heating,
    Printing,
    /// It does not know how long it will take.
    Guessing,
    Failing,
    Finished,
}

const NIGHT: [(Poll, u64); 6] = [
    (Poll::Heating, 6),
    (Poll::Printing, 6),
    (Poll::Guessing, 6),
    (Poll::Failing, 8),
    (Poll::Printing, 6),
    (Poll::Finished, 6),
];

fn answer(poll: Poll, number: u64) -> (u16, Value) {
    if matches!(poll, Poll::Failing) {
        return (500, json!({ "title": "out of order" }));
    }
    let heating = matches!(poll, Poll::Heating);
    let over = matches!(poll, Poll::Finished);
    let reasons = if heating {
        vec!["extruder-heating-report"]
    } else {
        Vec::new()
    };
    let target = if over { 0.0 } else { 215.0 };
    let body = json!({
        "printer-state": if over { "idle" } else { "processing" },
        "printer-state-reasons": reasons,
        "printer-up-time": 1000 + number,
        "heaters": {
            "platform": { "actual-celsius": 60.1, "target-celsius": if over { 0.0 } else { 60.0 } },
            "extruder": { "actual-celsius": if heating { 150.0 } else { 214.7 }, "target-celsius": target },
        },
        "job": {
            "job-id": 7, "job-name": "clip",
            "job-state": if over { "completed" } else { "processing" },
            "job-state-reasons": [],
            "progress-percent": if over { 100.0 } else { 40.0 },
            "elapsed-seconds": 600 + number,
            "remaining-seconds": match poll {
                Poll::Guessing => json!(null),
                Poll::Finished => json!(0),
                _ => json!(2000 - number),
            },
        },
    });
    (200, body)
}

/// Writes the session of an invented night.
fn night(dir: &Path) -> PathBuf {
    session_of(dir, &NIGHT)
}

fn session_of(dir: &Path, night: &[(Poll, u64)]) -> PathBuf {
    let mut text = String::new();
    let mut line = |value: Value| writeln!(text, "{value}").unwrap();
    line(json!({ "line": "session", "version": 1 }));
    line(json!({ "line": "connection-opened", "at-seconds": 0, "connection": 1 }));
    let polls = night
        .iter()
        .flat_map(|(poll, count)| std::iter::repeat_n(*poll, usize::try_from(*count).unwrap()));
    for (number, poll) in (1_u64..).zip(polls) {
        let at = number * 5;
        let (status, body) = answer(poll, number);
        let body = body.to_string();
        line(
            json!({ "line": "request", "at-seconds": at, "connection": 1, "exchange": number,
            "method": "GET", "target": "/printer", "fields": [["Host", "printer.example"]] }),
        );
        line(
            json!({ "line": "answer", "at-seconds": at, "exchange": number, "status": status, "reason": "",
            "fields": [["Content-Type", "application/json"], ["Content-Length", body.len().to_string()]],
            "body": { "text": body }, "framing": "length", "end": "complete", "pieces": [] }),
        );
    }
    let file = dir.join("night.jsonl");
    std::fs::write(&file, text).unwrap();
    file
}

fn judge(dir: &Path, mistake: Option<&str>, options: &[&str]) -> Output {
    let watcher = dir.join(format!("{}.py", mistake.unwrap_or("correct")));
    std::fs::write(&watcher, python_with(mistake)).unwrap();
    coldbed()
        .args(["check", "--interval", "250ms", "--session"])
        .arg(night(dir))
        .args(options)
        .args(["--", "python3"])
        .arg(watcher)
        .args(["{url}", "{key}", "{interval}"])
        .output()
        .unwrap()
}

#[test]
fn a_correct_watcher_is_right_about_a_recorded_night() {
    let dir = tempfile::tempdir().unwrap();
    let output = judge(dir.path(), None, &[]);
    let report = stdout(&output);
    assert_eq!(output.status.code(), Some(0), "{report}{}", stderr(&output));
    assert!(report.contains("5 passed, 0 failed, 0 skipped"), "{report}");
}

#[test]
fn each_mistake_is_seen_on_a_recorded_night() {
    let mistakes = [
        ("python-finish-shown-as-idle", "session-phase-misread"),
        ("python-heaters-by-place", "session-heater-misread"),
        (
            "python-unknown-remaining-shown-as-zero",
            "session-job-misread",
        ),
        (
            "python-keeps-the-last-sighting-on-an-error-status",
            "session-old-data-shown",
        ),
        ("python-ends-on-an-error-status", "session-not-followed"),
    ];
    std::thread::scope(|scope| {
        for (mistake, check) in mistakes {
            scope.spawn(move || {
                let dir = tempfile::tempdir().unwrap();
                let options = ["--repeats", "0", "--only", check];
                let output = judge(dir.path(), Some(mistake), &options);
                let report = stdout(&output);
                let is_caught = report.contains(&format!("FAILED    {check}"));
                assert!(is_caught, "{mistake}: {report}{}", stderr(&output));
                assert_eq!(output.status.code(), Some(1), "{report}");
            });
        }
    });
}

#[test]
fn what_the_user_expects_takes_the_place_of_what_the_dialect_reads() {
    let dir = tempfile::tempdir().unwrap();
    let expect = dir.path().join("expect.toml");
    let text = "[[expect]]\nfrom = \"35s\"\nuntil = \"60s\"\nphase = \"paused\"\n";
    std::fs::write(&expect, text).unwrap();
    let options = [
        "--repeats",
        "0",
        "--only",
        "session-phase-misread",
        "--expect",
        expect.to_str().unwrap(),
    ];
    let output = judge(dir.path(), None, &options);
    let report = stdout(&output);
    assert_eq!(output.status.code(), Some(1), "{report}{}", stderr(&output));
    assert!(report.contains("paused"), "{report}");
    assert!(report.contains("as exchange "), "{report}");
}

#[test]
fn what_cannot_be_judged_by_is_bad_input() {
    let dir = tempfile::tempdir().unwrap();
    let empty = dir.path().join("empty.jsonl");
    std::fs::write(&empty, "{\"line\":\"session\",\"version\":1}\n").unwrap();
    let wrong = dir.path().join("expect.toml");
    std::fs::write(&wrong, "[[expect]]\nphase = \"printed\"\n").unwrap();
    let (empty, wrong) = (empty.to_str().unwrap(), wrong.to_str().unwrap());
    let night = night(dir.path());
    let night = night.to_str().unwrap();
    for (args, told) in [
        (vec!["check", "--session", empty], "no exchange"),
        (
            vec!["check", "--session", night, "--expect", wrong],
            "there is no `printed`",
        ),
        (
            vec!["check", "--session", night, "--only", "phase-error"],
            "no check on a session is called",
        ),
        (
            vec!["check", "--session", night, "--list"],
            "cannot be used with",
        ),
        (vec!["check", "--expect", wrong], "--session"),
    ] {
        let output = run(&args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(
            stderr(&output).contains(told),
            "{args:?}: {}",
            stderr(&output)
        );
    }
}

#[test]
fn a_night_on_which_a_rule_is_broken_shrinks_to_the_answer_it_is_broken_on() {
    let dir = tempfile::tempdir().unwrap();
    let watcher = dir.path().join("watch.py");
    let source = python_with(Some("python-unknown-remaining-shown-as-zero"));
    std::fs::write(&watcher, source).unwrap();
    let night = session_of(
        dir.path(),
        &[
            (Poll::Printing, 3),
            (Poll::Guessing, 1),
            (Poll::Printing, 2),
        ],
    );
    let output = coldbed()
        .arg("shrink")
        .arg(&night)
        .args([
            "--check",
            "session-job-misread",
            "--interval",
            "50ms",
            "--jobs",
            "8",
        ])
        .args(["--", "python3"])
        .arg(&watcher)
        .args(["{url}", "{key}", "{interval}"])
        .output()
        .unwrap();
    let summary = stdout(&output);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{summary}{}",
        stderr(&output)
    );
    assert!(summary.starts_with("1 of 6 exchanges"), "{summary}");
    let small = std::fs::read_to_string(dir.path().join("night.small.jsonl")).unwrap();
    // A member that is missing is as unknown as one that is null.
    assert!(small.contains(r#""body":{"text":"{}"}"#), "{small}");
}
