use std::path::Path;

use crate::common::{in_tests, run, stderr, stdout};

/// Writes the Python watcher with heating shown as printing, and gives its path.
fn mistaken(folder: &Path) -> String {
    let correct = std::fs::read_to_string(in_tests("watchers/python/watch.py")).unwrap();
    let right = r#"return {True: "heating", False: "printing", None: "unknown"}[heating(answer)]"#;
    assert_eq!(correct.matches(right).count(), 1);
    let file = folder.join("watch.py");
    std::fs::write(&file, correct.replace(right, r#"return "printing""#)).unwrap();
    file.to_str().unwrap().to_owned()
}

fn check(flags: &[&str], watcher: &str) -> std::process::Output {
    let mut words = vec!["check", "--only", "phase-heat-up", "--only", "progress"];
    words.extend(flags);
    words.extend(["--", "python3", watcher, "{url}", "{key}", "0.2"]);
    run(&words)
}

#[test]
fn what_a_baseline_knows_fails_nothing_until_the_baseline_says_that_it_is_mended() {
    let folder = tempfile::tempdir().unwrap();
    let (bad, good) = (
        mistaken(folder.path()),
        in_tests("watchers/python/watch.py"),
    );
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let first = check(&["--report", &format!("json={}", file("bad.json"))], &bad);
    assert_eq!(first.status.code(), Some(1), "{}", stderr(&first));
    assert!(
        stdout(&first).contains("\n1 passed, 1 failed, 0 skipped\n"),
        "{}",
        stdout(&first)
    );

    let known = check(&["--baseline", &file("bad.json")], &bad);
    assert_eq!(known.status.code(), Some(0), "{}", stdout(&known));
    assert!(
        stdout(&known).contains("known     phase-heat-up"),
        "{}",
        stdout(&known)
    );

    let to = format!("json={}", file("good.json"));
    let mended = check(&["--baseline", &file("bad.json"), "--report", &to], &good);
    assert_eq!(mended.status.code(), Some(0));
    assert!(
        stdout(&mended).contains("mended    phase-heat-up"),
        "{}",
        stdout(&mended)
    );

    let new = check(&["--baseline", &file("good.json")], &bad);
    assert_eq!(new.status.code(), Some(1), "{}", stdout(&new));
}

#[test]
fn a_report_on_standard_output_is_all_there_is_on_it() {
    let watcher = in_tests("watchers/python/watch.py");
    let output = check(&["--report", "tap=-"], &watcher);
    let text = stdout(&output);
    assert_eq!(output.status.code(), Some(0), "{text}{}", stderr(&output));
    assert_eq!(
        text,
        "TAP version 14\n1..2\nok 1 - phase-heat-up\nok 2 - progress\n"
    );
}

#[test]
fn a_report_or_a_baseline_that_is_of_no_use_is_told_before_anything_runs() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    std::fs::write(file("text"), "1 passed").unwrap();
    let nowhere = format!("json={}", file("none/a.json"));
    let twice = format!("tap={}", file("a"));
    for (flags, words) in [
        (vec!["--report", "xml=a"], "no report is called `xml`"),
        (vec!["--report", &nowhere], "cannot write the report"),
        (vec!["--report", "json=/dev/null"], "no regular file"),
        (
            vec!["--report", &twice, "--report", &twice],
            "two reports go to",
        ),
        (vec!["--baseline", &file("text")], "is no report of"),
        (
            vec!["--baseline", &file("none")],
            "cannot read the baseline",
        ),
    ] {
        // A watcher that could not be started would be code 3.
        let output = check(&flags, "/dev/null");
        assert_eq!(output.status.code(), Some(2), "{flags:?}");
        assert!(stderr(&output).contains(words), "{}", stderr(&output));
    }
    // Nothing half-made is left.
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}
