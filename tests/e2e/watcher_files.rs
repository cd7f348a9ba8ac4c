use std::fs;
use std::path::Path;

use crate::common::{in_tests, run, stderr, stdout};

/// Prints what the correct watcher in Python says in words and units of its own, one thing a line.
const REWORD: &str = r#"
import json, subprocess, sys
watch = subprocess.Popen(["python3", *sys.argv[1:]], stdout=subprocess.PIPE, text=True)
for line in watch.stdout:
    seen = json.loads(line)
    phase = {"unknown": "NO CONTACT"}.get(seen["phase"], seen["phase"].upper())
    print("phase " + phase, file=sys.stderr, flush=True)
    part = seen["progress-percent"]
    print("part " + ("-" if part is None else str(part / 100)), file=sys.stderr, flush=True)
"#;

/// Writes a watcher file beside that program and gives its path.
fn watcher_file(folder: &Path, words: &str) -> String {
    fs::write(folder.join("reword.py"), REWORD).unwrap();
    let watch = in_tests("watchers/python/watch.py");
    let text = format!(
        r#"
command = ["python3", "reword.py", "{watch}", "{{url}}", "{{key}}", "0.2"]
[sightings]
from = "stderr"
unknown = ["-"]
lines = {{ patterns = ['^phase (?<phase>.+)$', '^part (?<part>\S+)$'] }}
fields = {{ phase = "phase", progress-percent = {{ at = "part", unit = "ratio" }} }}
[sightings.words]
{words}
"#
    );
    let file = folder.join("watcher.toml");
    fs::write(&file, text).unwrap();
    file.to_str().unwrap().to_owned()
}

const WORDS: &str = r#"
idle = ["IDLE"]
heating = ["HEATING"]
printing = ["PRINTING"]
paused = ["PAUSED"]
error = ["ERROR"]
finished = ["FINISHED"]
cancelled = ["CANCELLED"]
unknown = ["NO CONTACT"]
"#;

#[test]
fn a_watcher_with_words_and_units_of_its_own_is_judged_by_its_file() {
    let folder = tempfile::tempdir().unwrap();
    let file = watcher_file(folder.path(), WORDS);
    let selection = [
        "--only",
        "progress",
        "--only",
        "phase-paused",
        "--only",
        "target-temperature",
    ];
    let output = run(&[&["check", "--watcher", &file], &selection[..]].concat());
    let (out, err) = (stdout(&output), stderr(&output));
    assert_eq!(output.status.code(), Some(0), "{out}\n{err}");
    assert!(out.contains("does not report target-celsius"), "{out}");
}

#[test]
fn a_word_under_the_wrong_phase_is_a_violation() {
    let folder = tempfile::tempdir().unwrap();
    let swapped = WORDS
        .replace("heating = [\"HEATING\"]", "heating = [\"PRINTING\"]")
        .replace("printing = [\"PRINTING\"]", "printing = [\"HEATING\"]");
    let file = watcher_file(folder.path(), &swapped);
    let output = run(&["check", "--watcher", &file, "--only", "phase-heat-up"]);
    assert_eq!(output.status.code(), Some(1), "{}", stdout(&output));
}

#[test]
fn trying_shows_what_is_understood_and_ends_in_code_0_or_3() {
    let folder = tempfile::tempdir().unwrap();
    let file = watcher_file(folder.path(), WORDS);
    let output = run(&["check", "--watcher", &file, "--try", "--for", "3s"]);
    let out = stdout(&output);
    assert_eq!(output.status.code(), Some(0), "{out}\n{}", stderr(&output));
    assert!(out.contains("from `IDLE`"), "{out}");
    assert!(out.contains("NO CONTACT (unknown)\n"), "{out}");
    assert!(out.contains("last answered 200"), "{out}");

    let nothing = run(&["check", "--try", "--", "sh", "-c", "echo booting"]);
    let out = stdout(&nothing);
    assert_eq!(nothing.status.code(), Some(3), "{out}");
    assert!(out.contains("no sighting: no JSON"), "{out}");
    assert!(out.contains("the mock was asked for nothing"), "{out}");
}

#[test]
fn a_watcher_file_that_is_wrong_or_beside_a_command_is_bad_input() {
    let folder = tempfile::tempdir().unwrap();
    let file = watcher_file(folder.path(), "heeting = []");
    let output = run(&["check", "--watcher", &file]);
    assert_eq!(output.status.code(), Some(2));
    let said = stderr(&output);
    assert!(
        said.contains("watcher.toml:9:1: sightings.words.heeting: unknown key"),
        "{said}"
    );
    let both = run(&["check", "--watcher", &file, "--", "sh"]);
    assert_eq!(both.status.code(), Some(2));
}
