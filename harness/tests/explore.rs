//! `coldbed check --scenario` and `--explore`, as commands.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A scenario in which the target is null while the job begins.
const NULL_WHILE_A_JOB_BEGINS: &str = r#"
include = "desk-printer"
title = "The target is null when the job begins"
length = "7m"

[[job]]
name = "clip-01"
at = "2m"
duration = "150s"
targets-celsius = { platform = 45, extruder = 200 }

[[event]]
at = "1m"
action = "drift-raised"
drift = { pointer = "/heaters/extruder/target-celsius", change = "replace-by-null" }
lasts = "4m"
"#;

/// Runs `coldbed check` on the watcher beside this file, with that mistake built in.
fn check(dir: &Path, arguments: &[&str], mistake: &str) -> Output {
    let watcher = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/watch.py");
    let mut command = Command::new(env!("CARGO_BIN_EXE_coldbed"));
    command.current_dir(dir).arg("check").args(arguments);
    command.args(["--", "python3", watcher, mistake, "{url}", "{key}", "0.2"]);
    command.output().expect("the command runs")
}

fn words(output: &Output) -> String {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    text(&output.stdout) + &text(&output.stderr)
}

#[test]
fn a_scenario_with_a_drift_catches_who_keeps_the_last_target_and_nobody_else() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("null.toml"), NULL_WHILE_A_JOB_BEGINS).unwrap();
    let arguments = ["--scenario", "null.toml", "--per-poll", "15s"];
    let output = check(dir.path(), &arguments, "none");
    assert_eq!(output.status.code(), Some(0), "{}", words(&output));
    assert!(words(&output).contains("1 passed"), "{}", words(&output));

    let output = check(dir.path(), &arguments, "keeps-target");
    let said = words(&output);
    assert_eq!(output.status.code(), Some(1), "{said}");
    for part in [
        "scenario (must)",
        "drift: /heaters/extruder/target-celsius is null",
        "observed  extruder target-celsius 0",
        "on scenario null.toml",
    ] {
        assert!(said.contains(part), "`{part}` in {said}");
    }
}

#[test]
fn a_scenario_whose_host_restarts_asks_for_unknown_and_for_recovery() {
    let dir = tempfile::tempdir().unwrap();
    let scenario = r#"
include = "desk-printer"
title = "A host that is away for long"
length = "8m"

[[job]]
name = "clip-01"
at = "1m"
duration = "5m"
targets-celsius = { platform = 45, extruder = 200 }

[[event]]
at = "1m30s"
action = "host-restart"
lasts = "6m"
"#;
    std::fs::write(dir.path().join("away.toml"), scenario).unwrap();
    let arguments = ["--scenario", "away.toml", "--per-poll", "10s"];
    let output = check(dir.path(), &arguments, "none");
    assert_eq!(output.status.code(), Some(0), "{}", words(&output));
    let output = check(dir.path(), &arguments, "keeps-all");
    let said = words(&output);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("of the last usable answer"), "{said}");
    assert!(said.contains("about     the host is away"), "{said}");
}

#[test]
fn an_explored_failure_is_saved_small_and_fails_again_when_it_is_replayed() {
    let dir = tempfile::tempdir().unwrap();
    let arguments = [
        "--explore",
        "3",
        "--seed",
        "5",
        "--save",
        ".",
        "--shrink-runs",
        "6",
    ];
    let output = check(dir.path(), &arguments, "dies");
    let said = words(&output);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("3 checks, seed 5"), "{said}");
    let saved: Vec<PathBuf> = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    let file = saved
        .first()
        .unwrap_or_else(|| panic!("nothing is saved: {said}"));
    let name = file.file_name().unwrap().to_string_lossy().into_owned();
    // Where the words stand in a line is the terminal's business.
    let in_one_line = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        in_one_line.contains(&format!("saved as ./{name}")),
        "{said}"
    );

    let text = std::fs::read_to_string(file).unwrap();
    let replay = text
        .lines()
        .find_map(|line| line.strip_prefix("# coldbed check "))
        .unwrap_or_else(|| panic!("no command in {text}"));
    let (flags, command) = replay.split_once(" -- ").unwrap();
    assert!(command.ends_with("dies {url} {key} 0.2"), "{replay}");
    let flags: Vec<&str> = flags.split(' ').collect();
    let output = check(dir.path(), &flags, "dies");
    let said = words(&output);
    assert_eq!(output.status.code(), Some(1), "{text}{said}");
    assert!(said.contains("exit status: 9"), "{said}");
    // And the plan is not to blame.
    let output = check(dir.path(), &flags, "none");
    assert_eq!(output.status.code(), Some(0), "{text}{}", words(&output));
}

#[test]
fn what_cannot_be_explored_is_told_before_anything_runs() {
    let dir = tempfile::tempdir().unwrap();
    for (arguments, told) in [
        (&["--explore", "0"][..], "0 is not in 1..=1000"),
        (
            &["--explore", "2", "--save", "no/such/folder"],
            "--save: no file can be made in `no/such/folder`: No such file or directory",
        ),
        (
            &["--scenario", "nowhere"],
            "`nowhere` is neither a built-in scenario nor a file",
        ),
        (&["--per-poll", "3s"], "--scenario"),
        (
            &["--scenario", "printing", "--per-poll", "0s"],
            "a scenario that stands still has no end",
        ),
        (
            &["--explore", "2", "--only", "progress"],
            "cannot be used with",
        ),
    ] {
        let output = check(dir.path(), arguments, "none");
        let said = words(&output);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
        assert!(said.contains(told), "{arguments:?}: {said}");
        assert_eq!(output.stdout, b"", "{arguments:?}");
    }
}
