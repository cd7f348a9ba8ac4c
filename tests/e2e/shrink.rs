//! From a night on which a client dies to the answer that it dies of.

use std::fmt::Write as _;
use std::path::Path;

use serde_json::{Value, json};

use crate::common::{run, stderr, stdout};

/// A small client that reads as fast as it can, ends when there is nothing more, and does not expect that
/// the time left is not known.
const CLIENT: &str = r#"
import http.client, json, sys, urllib.parse
host = urllib.parse.urlsplit(sys.argv[1]).netloc
connection = http.client.HTTPConnection(host, timeout=5)
while True:
    connection.request("GET", "/status")
    answer = connection.getresponse()
    body = answer.read()
    if answer.status != 200:
        sys.exit(0)
    state = json.loads(body)
    if state.get("state") == "processing":
        left = state.get("job", {}).get("left", 0)
        print("done in %d min" % (left // 60))
"#;

/// An invented night of so many polls, five seconds apart, with one poisonous member.
fn night(file: &Path, exchanges: u64, poisonous: u64) {
    let mut text = String::new();
    let mut line = |value: Value| writeln!(text, "{value}").unwrap();
    line(json!({ "line": "session", "version": 1 }));
    line(json!({ "line": "connection-opened", "at-seconds": 0, "connection": 1 }));
    for number in 1..=exchanges {
        let at = number * 5;
        let left = if number == poisonous {
            json!(null)
        } else {
            json!(20_000 - at)
        };
        let body = json!({
            "state": if at < 600 { "idle" } else { "processing" },
            "nozzle": { "now": 214.7, "wanted": 215 },
            "bed": { "now": 60.1, "wanted": 60 },
            "job": { "name": "clip", "part": 0.125, "since": at, "left": left },
        });
        let body = body.to_string();
        line(
            json!({ "line": "request", "at-seconds": at, "connection": 1, "exchange": number,
            "method": "GET", "target": "/status", "fields": [["Host", "printer.example"]] }),
        );
        line(
            json!({ "line": "answer", "at-seconds": at, "exchange": number, "status": 200, "reason": "OK",
            "fields": [["Content-Type", "application/json"], ["Content-Length", body.len().to_string()]],
            "body": { "text": body }, "framing": "length", "end": "complete",
            "pieces": [{ "after-seconds": 0.004, "bytes": body.len() + 79 }] }),
        );
    }
    std::fs::write(file, text).unwrap();
}

#[test]
fn of_a_night_of_two_thousand_exchanges_one_with_two_members_is_left() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    std::fs::write(path("client.py"), CLIENT).unwrap();
    night(&dir.path().join("night.jsonl"), 2000, 1234);
    let (file, client) = (path("night.jsonl"), path("client.py"));
    // The client ends by itself, so that nobody waits for so long but for a busy machine.
    let shrink = [
        "shrink", &file, "--grace", "10s", "--", "python3", &client, "{url}",
    ];
    let output = run(&shrink);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}{}",
        stdout(&output),
        stderr(&output)
    );
    let left = std::fs::read_to_string(path("night.small.jsonl")).unwrap();
    let answers: Vec<Value> = left
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .filter(|line: &Value| line["line"] == "answer")
        .collect();
    assert_eq!(answers.len(), 1, "{left}");
    let body = answers[0]["body"]["text"].as_str().unwrap();
    assert_eq!(body, r#"{"state":"processing","job":{"left":null}}"#);
    // A second run has nothing left to try.
    let again = stdout(&run(&shrink));
    assert!(again.contains("after 0 trials"), "{again}");
}

#[test]
fn what_does_not_fail_is_not_made_small() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("night.jsonl");
    night(&file, 3, 0);
    let output = run(&["shrink", file.to_str().unwrap(), "--", "sh", "-c", "exit 0"]);
    assert_eq!(output.status.code(), Some(2));
    let said = stderr(&output);
    assert!(
        said.contains("does not fail on the whole session"),
        "{said}"
    );
}

#[test]
fn a_failure_can_be_a_text_that_is_printed() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("night.jsonl");
    night(&file, 3, 0);
    let output = run(&[
        "shrink",
        file.to_str().unwrap(),
        "--output",
        "cannot",
        "--",
        "sh",
        "-c",
        "echo '{\"phase\": \"cannot\"}'; sleep 9",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    // It fails whatever the host says, so nothing is needed but something to play.
    assert!(
        stdout(&output).starts_with("1 of 3 exchanges"),
        "{}",
        stdout(&output)
    );
}
