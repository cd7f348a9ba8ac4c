//! The correct watchers pass every check; each mistake is caught by the check that is there for it.

use std::path::Path;
use std::process::{Command, Output};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use serde::Deserialize;

use crate::common::{coldbed, in_tests, run, stderr, stdout};

/// How often the watchers ask here, in seconds: often, so that the tests are soon done.
const INTERVAL_S: &str = "0.4";

#[derive(Deserialize)]
struct Collection {
    mistake: Vec<Mistake>,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
struct Mistake {
    name: String,
    watcher: String,
    caught_by: String,
    edit: Vec<Edit>,
}

#[derive(Deserialize)]
struct Edit {
    replace: String,
    with: String,
}

/// Gives a watcher's source file below `tests/watchers`.
fn source(watcher: &str) -> &'static str {
    match watcher {
        "python" => "python/watch.py",
        "node" => "node/watch.mjs",
        "shell" => "shell/watch.sh",
        "c" => "c/watch.c",
        other => panic!("no watcher is called {other}"),
    }
}

/// Gives the words that run a watcher's file, compiled first if need be.
fn command(watcher: &str, file: &Path) -> Vec<String> {
    let file = file.to_str().unwrap().to_owned();
    match watcher {
        "python" => vec!["python3".to_owned(), file],
        "node" => vec!["node".to_owned(), file],
        "shell" => vec!["sh".to_owned(), file],
        _ => {
            let program = file.replace(".c", ".out");
            let built = Command::new("cc")
                .args(["-O1", "-Wall", "-Wextra", "-std=c11", &file, "-o", &program])
                .args(["-lcurl", "-lcjson"])
                .output()
                .unwrap();
            assert!(built.status.success(), "{}", stderr(&built));
            vec![program]
        }
    }
}

fn judge(only: Option<&str>, words: &[String]) -> Output {
    coldbed()
        .arg("check")
        .args(only.into_iter().flat_map(|id| ["--only", id]))
        .arg("--")
        .args(words)
        .args(["{url}", "{key}", INTERVAL_S])
        .output()
        .unwrap()
}

fn assert_all_pass(output: &Output) {
    let report = stdout(output);
    assert_eq!(output.status.code(), Some(0), "{report}{}", stderr(output));
    assert!(
        report.ends_with("20 passed, 0 failed, 0 skipped\n"),
        "{report}"
    );
}

fn assert_passes(watcher: &str) {
    let dir = tempfile::tempdir().unwrap();
    let name = Path::new(source(watcher)).file_name().unwrap();
    let file = dir.path().join(name);
    std::fs::copy(in_tests(&format!("watchers/{}", source(watcher))), &file).unwrap();
    assert_all_pass(&judge(None, &command(watcher, &file)));
}

/// Applies a mistake to the correct source.
fn with_mistake(mistake: &Mistake) -> String {
    let correct = in_tests(&format!("watchers/{}", source(&mistake.watcher)));
    let correct = std::fs::read_to_string(correct).unwrap();
    mistake.edit.iter().fold(correct, |text, edit| {
        let count = text.matches(&edit.replace).count();
        assert_eq!(count, 1, "{}: what is replaced is there once", mistake.name);
        text.replace(&edit.replace, &edit.with)
    })
}

/// Gives why a mistake was not caught, or nothing if it was.
fn escapes(mistake: &Mistake, dir: &Path) -> Option<String> {
    let extension = source(&mistake.watcher).rsplit('.').next().unwrap();
    let file = dir.join(format!("{}.{extension}", mistake.name));
    std::fs::write(&file, with_mistake(mistake)).unwrap();
    let output = judge(Some(&mistake.caught_by), &command(&mistake.watcher, &file));
    let report = stdout(&output);
    let caught = output.status.code() == Some(1)
        && report
            .lines()
            .any(|line| line.starts_with("FAILED") && line.contains(&mistake.caught_by));
    (!caught).then(|| format!("{}: {report}{}", mistake.name, stderr(&output)))
}

fn assert_mistakes_are_caught(watcher: &str) {
    let text = std::fs::read_to_string(in_tests("watchers/mistakes.toml")).unwrap();
    let collection: Collection = toml::from_str(&text).unwrap();
    let mistakes: Vec<Mistake> = collection
        .mistake
        .into_iter()
        .filter(|mistake| mistake.watcher == watcher)
        .collect();
    assert!(mistakes.len() >= 20, "at least one for each check");
    let dir = tempfile::tempdir().unwrap();
    let (next, escaped) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    // A watcher sleeps most of the time, so several are judged at once.
    std::thread::scope(|scope| {
        for _ in 0..6 {
            scope.spawn(|| {
                while let Some(mistake) = mistakes.get(next.fetch_add(1, Ordering::Relaxed)) {
                    escaped.lock().unwrap().extend(escapes(mistake, dir.path()));
                }
            });
        }
    });
    let escaped = escaped.into_inner().unwrap();
    assert!(
        escaped.is_empty(),
        "{} escaped:\n{}",
        escaped.len(),
        escaped.join("\n")
    );
}

#[test]
fn the_reference_watcher_passes_every_check() {
    assert_all_pass(&run(&["check"]));
}

#[test]
fn the_python_watcher_passes_every_check() {
    assert_passes("python");
}

#[test]
fn a_watcher_of_another_dialect_passes_every_check() {
    let file = in_tests("watchers/python/watch_senml.py");
    let output = coldbed()
        .args(["check", "--dialect", "senml", "--", "python3"])
        .arg(file)
        .args(["{url}", "{key}", INTERVAL_S])
        .output()
        .unwrap();
    assert_all_pass(&output);
}

#[test]
fn the_node_watcher_passes_every_check() {
    assert_passes("node");
}

#[test]
fn the_shell_watcher_passes_every_check() {
    assert_passes("shell");
}

#[test]
fn the_c_watcher_passes_every_check() {
    assert_passes("c");
}

#[test]
fn each_mistake_in_python_is_caught_by_the_check_that_is_there_for_it() {
    assert_mistakes_are_caught("python");
}

#[test]
fn each_mistake_in_node_is_caught_by_the_check_that_is_there_for_it() {
    assert_mistakes_are_caught("node");
}

#[test]
fn each_mistake_in_the_shell_is_caught_by_the_check_that_is_there_for_it() {
    assert_mistakes_are_caught("shell");
}

#[test]
fn each_mistake_in_c_is_caught_by_the_check_that_is_there_for_it() {
    assert_mistakes_are_caught("c");
}
