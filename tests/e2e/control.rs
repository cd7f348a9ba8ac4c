//! The control API of a running mock, with curl.

use std::process::{Command, Output};

use serde_json::Value;

use crate::common::{Served, run, stderr, stdout};

fn curl(args: &[&str]) -> Output {
    Command::new("curl")
        .args(["--silent", "--show-error", "--max-time", "20"])
        .args(["--header", "Content-Type: application/json"])
        .args(args)
        .output()
        .unwrap()
}

/// Gives the body of a good answer.
fn ask(args: &[&str]) -> String {
    let output = curl(&[&["--fail-with-body"], args].concat());
    let body = stdout(&output);
    assert!(output.status.success(), "{args:?}: {body}");
    body
}

fn control(host: &Served, path: &str) -> String {
    format!("{}{path}", host.control.as_ref().unwrap())
}

#[test]
fn a_fault_is_raised_and_cleared_on_a_running_mock() {
    let host = Served::start(&["printing", "--control=127.0.0.1:0"]);
    let raised = ask(&[
        "--data",
        r#"{ "fault": "refuse" }"#,
        &control(&host, "/faults"),
    ]);
    let raised: Value = serde_json::from_str(&raised).unwrap();
    let printer = format!("{}/printer", host.url);
    // 7: failed to connect to host (curl's manual, "Exit codes").
    assert_eq!(curl(&[&printer]).status.code(), Some(7));
    let fault = control(&host, &format!("/faults/{}", raised["id"]));
    ask(&["--request", "DELETE", &fault]);
    assert_eq!(curl(&[&printer]).status.code(), Some(0));
}

#[test]
fn a_log_replays_to_the_same_bytes_in_another_process() {
    let dir = tempfile::tempdir().unwrap();
    let log = dir.path().join("run.jsonl");
    let log = log.to_str().unwrap();
    let serve = |flag: &str| {
        let args = [
            "printing",
            "--rate",
            "0",
            "--seed",
            "5",
            "--control=127.0.0.1:0",
        ];
        Served::start(&[&args[..], &[flag, log]].concat())
    };
    let jump = |host: &Served, to: &str| {
        let body = format!(r#"{{ "to": "{to}" }}"#);
        ask(&["--data", &body, &control(host, "/clock/jump")]);
    };
    let seen = |host: &Served| ask(&[&format!("{}/printer", host.url)]);

    let first = serve("--control-log");
    jump(&first, "1h");
    let body = r#"{ "action": "set-target", "heater": "platform", "celsius": 61.7 }"#;
    ask(&["--data", body, &control(&first, "/events")]);
    ask(&["--request", "POST", &format!("{}/job/pause", first.url)]);
    jump(&first, "1h5m0.3s");
    let in_between = seen(&first);
    jump(&first, "2h");
    let drift = r#"{ "name": "gone", "pointer": "/job", "change": "replace-by-null",
                     "class": "breaking" }"#;
    ask(&["--data", drift, &control(&first, "/drifts")]);
    let last = seen(&first);
    drop(first);

    let second = serve("--replay-log");
    jump(&second, "1h5m0.3s");
    assert_eq!(seen(&second), in_between);
    jump(&second, "2h");
    assert_eq!(seen(&second), last);
    assert!(last.contains(r#""job":null"#), "{last}");
    assert!(
        in_between.contains(r#""target-celsius":61.7"#),
        "{in_between}"
    );
}

#[test]
fn what_the_control_api_cannot_be_started_with_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("run.jsonl");
    let log = file.to_str().unwrap();
    let header = r#"{"coldbed-log":1,"scenario":"printing","seed":9,"dialect":"plain"}"#;
    std::fs::write(&file, header).unwrap();
    let cases: [(&[&str], &str); 4] = [
        (&["--control=0.0.0.0:0"], "needs --control-key"),
        (&["--control-key", "sesame"], "--control"),
        (
            &["--control-log", log],
            "exists (os error 17) [name another file]",
        ),
        (
            &["--replay-log", log],
            "the log is of seed 9, and this is 1",
        ),
    ];
    for (args, said) in cases {
        let output = run(&[&["serve", "--listen", "127.0.0.1:0"], args].concat());
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(
            stderr(&output).contains(said),
            "{args:?}: {}",
            stderr(&output)
        );
    }
}
