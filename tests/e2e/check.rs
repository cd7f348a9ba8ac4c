use std::process::Stdio;

use crate::common::{coldbed, in_tests, run, stderr, stdout};

#[test]
fn an_unknown_check_or_an_empty_part_is_bad_input() {
    let unknown = run(&["check", "--only", "phase-pause"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(stderr(&unknown).contains("did you mean `phase-paused`?"));
    let empty = run(&["check", "--only", "progress", "--part", "2/2"]);
    assert_eq!(empty.status.code(), Some(2));
    assert!(stderr(&empty).contains("nothing is selected"));
}

#[test]
fn a_watcher_that_cannot_be_started_or_asks_nothing_is_code_3() {
    let missing = run(&["check", "--only", "progress", "--", "no-such-program"]);
    assert_eq!(missing.status.code(), Some(3), "{}", stderr(&missing));
    assert!(stderr(&missing).contains("cannot start `no-such-program`"));
    let silent = run(&[
        "check",
        "--only",
        "progress",
        "--",
        "sh",
        "-c",
        "echo no >&2; exit 5",
    ]);
    assert_eq!(silent.status.code(), Some(3), "{}", stderr(&silent));
    let said = stderr(&silent);
    assert!(
        said.contains("asked for nothing") && said.contains("exit status: 5"),
        "{said}"
    );
    assert!(said.contains("wrote `no`"), "{said}");
}

#[test]
fn a_watcher_that_does_not_use_its_key_is_told_so() {
    let watch = in_tests("watchers/python/watch.py");
    let output = run(&[
        "check", "--only", "progress", "--", "python3", &watch, "{url}", "wrong", "0.2",
    ]);
    assert_eq!(output.status.code(), Some(3));
    assert!(
        stderr(&output).contains("the last with 401"),
        "{}",
        stderr(&output)
    );
}

#[test]
fn output_that_is_no_sighting_is_bad_input_and_quoted() {
    let script = "while :; do curl -s -H \"Authorization: Bearer $2\" \"$1/printer\" >/dev/null; echo tick; sleep 0.2; done";
    let output = run(&[
        "check", "--only", "progress", "--", "sh", "-c", script, "sh", "{url}", "{key}",
    ]);
    assert_eq!(output.status.code(), Some(2), "{}", stderr(&output));
    assert!(
        stderr(&output).contains("such as `tick`"),
        "{}",
        stderr(&output)
    );
}

#[test]
fn what_a_watcher_does_not_report_is_skipped_with_the_reason_and_not_passed() {
    let script = "while :; do curl -s -H \"Authorization: Bearer $2\" \"$1/printer\" | jq -c '{\"progress-percent\": .job[\"progress-percent\"]}'; sleep 0.3; done";
    let output = run(&[
        "check",
        "--only",
        "progress",
        "--only",
        "phase-heat-up",
        "--",
        "sh",
        "-c",
        script,
        "sh",
        "{url}",
        "{key}",
    ]);
    let report = stdout(&output);
    assert_eq!(output.status.code(), Some(0), "{report}");
    assert!(
        report.contains("skipped   phase-heat-up  the watcher does not report phase"),
        "{report}"
    );
    assert!(report.contains("1 passed, 0 failed, 1 skipped"), "{report}");
}

/// A pipe whose reader has gone gives EPIPE (write(2)).
#[test]
fn who_stops_reading_ends_neither_the_work_nor_its_exit_code() {
    for args in [
        &["check", "--list"][..],
        &["list"],
        &["check", "--only", "key-not-in-url", "--interval", "0.2s"],
    ] {
        let mut child = coldbed()
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert_eq!(
            output.status.code(),
            Some(0),
            "{args:?}: {}",
            stderr(&output)
        );
        assert_eq!(stderr(&output), "", "{args:?}");
    }
}
