//! Sessions played, shown, cut and scrubbed by the command.

use std::path::{Path, PathBuf};

use crate::common::{Served, coldbed, run, stderr, stdout};

const SAMPLE: &str = include_str!("../../harness/src/commands/session/sample.jsonl");

fn sample(dir: &Path) -> PathBuf {
    let file = dir.join("night.jsonl");
    std::fs::write(&file, SAMPLE).unwrap();
    file
}

#[test]
fn a_recorded_answer_and_its_fault_come_back() {
    let dir = tempfile::tempdir().unwrap();
    let mut command = coldbed();
    command
        .arg("replay")
        .arg(sample(dir.path()))
        .args(["--match", "in-order", "--rate", "1000"]);
    let replay = Served::spawn(&mut command);
    assert_eq!(replay.get("/printer")["job"]["progress-percent"], 41.5);
    let unknown = replay.ask("GET", "/camera", "");
    assert!(unknown.starts_with("HTTP/1.1 404 "), "{unknown}");
}

#[test]
fn show_begins_with_what_it_is_and_ends_with_the_last_exchange() {
    let dir = tempfile::tempdir().unwrap();
    let output = run(&["session", "show", sample(dir.path()).to_str().unwrap()]);
    let text = stdout(&output);
    assert!(
        text.starts_with("http://printer.example, recorded 2026-11-24T21:03:11Z: 4 exchanges"),
        "{text}"
    );
    assert!(text.trim_end().ends_with("POST /job/cancel"), "{text}");
}

#[test]
fn a_part_is_a_session_that_can_be_shown() {
    let dir = tempfile::tempdir().unwrap();
    let part = dir.path().join("part.jsonl");
    let (file, part) = (sample(dir.path()), part.to_str().unwrap().to_owned());
    let output = run(&[
        "session",
        "cut",
        file.to_str().unwrap(),
        "--from",
        "30s",
        "--until",
        "50s",
        "--to",
        &part,
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let shown = stdout(&run(&["session", "show", &part]));
    assert!(shown.contains("2 exchanges"), "{shown}");
}

#[test]
fn what_is_named_is_scrubbed() {
    let dir = tempfile::tempdir().unwrap();
    let clean = dir.path().join("clean.jsonl");
    let file = sample(dir.path());
    let values = dir.path().join("values");
    std::fs::write(&values, "printer.example\n").unwrap();
    let output = run(&[
        "session",
        "scrub",
        file.to_str().unwrap(),
        "--to",
        clean.to_str().unwrap(),
        "--replace-member",
        "progress-percent",
        "--replace-values",
        values.to_str().unwrap(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let text = std::fs::read_to_string(clean).unwrap();
    assert!(text.contains("progress-percent\\\":11.1"), "{text}");
}

#[test]
fn a_session_goes_into_an_archive_and_comes_back() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let file = sample(dir.path());
    let (archive, back) = (path("night.har"), path("back.jsonl"));
    for args in [
        ["export", file.to_str().unwrap(), "--to", &archive],
        ["import", &archive, "--to", &back],
    ] {
        let output = run(&[&["session"][..], &args].concat());
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    }
    let show = |file: &str| stdout(&run(&["session", "show", file]));
    assert_eq!(show(&back), show(file.to_str().unwrap()));
}

#[test]
fn bad_input_is_told_with_what_is_wrong() {
    let dir = tempfile::tempdir().unwrap();
    let file = sample(dir.path());
    let file = file.to_str().unwrap();
    let broken = dir.path().join("broken.jsonl");
    std::fs::write(
        &broken,
        "{\"line\":\"session\",\"version\":1}\n{\"line\":\"what\"}\n",
    )
    .unwrap();
    let to = dir.path().join("to.jsonl");
    let to = to.to_str().unwrap();
    // The head of a packet capture (pcap), and nothing behind it.
    let capture = dir.path().join("night.pcap");
    let mut head = vec![0xd4, 0xc3, 0xb2, 0xa1, 2, 0, 4, 0];
    head.extend([0; 12]);
    head.extend([1, 0, 0, 0]);
    std::fs::write(&capture, head).unwrap();
    let capture = capture.to_str().unwrap();
    for (args, said) in [
        (
            vec!["import", capture, "--to", to],
            "there is no exchange in plain HTTP/1.1",
        ),
        (
            vec!["import", capture, "--to", to, "--host", "printer.example"],
            "--host: `printer.example` is no address",
        ),
        (
            vec!["import", file, "--to", to, "--port", "80"],
            "--port: only a packet capture is looked through by port",
        ),
        (vec!["show", "/nowhere/night.jsonl"], "No such file"),
        (
            vec!["show", broken.to_str().unwrap()],
            "line 2: unknown variant `what`",
        ),
        (
            vec!["show", file, "--exchange", "9"],
            "no exchange 9 among the 4 [1 to 4]",
        ),
        (
            vec!["cut", file, "--from", "50s", "--until", "40s", "--to", to],
            "--until is not after --from",
        ),
        (
            vec!["cut", file, "--from", "2h", "--to", to],
            "no request is in that part",
        ),
        (
            vec!["scrub", file, "--to", to, "--replace-member", "/a~"],
            "no JSON Pointer",
        ),
    ] {
        let output = run(&[&["session"][..], &args].concat());
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(
            stderr(&output).contains(said),
            "{args:?}: {}",
            stderr(&output)
        );
    }
}

#[test]
fn what_an_update_changed_is_told_with_exit_code_1() {
    let dir = tempfile::tempdir().unwrap();
    let before = sample(dir.path());
    let after = dir.path().join("after.jsonl");
    let text = SAMPLE.replace("\\\"progress-percent\\\":41.5", "\\\"part\\\":\\\"41.5\\\"");
    assert_ne!(text, SAMPLE);
    std::fs::write(&after, text).unwrap();
    let (before, after) = (before.to_str().unwrap(), after.to_str().unwrap());
    let output = run(&["session", "diff", before, after]);
    let told = stdout(&output);
    assert_eq!(output.status.code(), Some(1), "{told}{}", stderr(&output));
    assert!(
        told.contains("/job/progress-percent  member              number -> -"),
        "{told}"
    );
    let same = run(&["session", "diff", before, before]);
    assert_eq!(
        (same.status.code(), stdout(&same).as_str()),
        (Some(0), "no differences\n")
    );
    let json = stdout(&run(&["session", "diff", before, after, "--json"]));
    let all: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(all[0]["second"], "text", "{json}");
}
