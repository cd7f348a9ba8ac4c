//! The correct watchers pass every check; each mistake is caught by the check that is there for it.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, OnceLock};

use serde::Deserialize;

use crate::common::{Served, coldbed, in_tests, run, stderr, stdout};
use crate::correct::{AS_JSON, assert_passes_all_but};

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
        "rust" => "rust/src/main.rs",
        "control" => "python/control.py",
        "senml" => "python/watch_senml.py",
        "stream" => "python/watch_stream.py",
        other => panic!("no watcher is called {other}"),
    }
}

/// Gives the words that run a watcher's file, compiled first if need be.
fn command(watcher: &str, file: &Path) -> Vec<String> {
    let file = file.to_str().unwrap().to_owned();
    match watcher {
        "python" | "control" | "senml" | "stream" => vec!["python3".to_owned(), file],
        "node" => vec!["node".to_owned(), file],
        "shell" => vec!["sh".to_owned(), file],
        _ => {
            let program = file.replace(".c", ".out");
            let built = Command::new("cc")
                .args(["-O1", "-Wall", "-Wextra", "-std=c11", &file, "-o", &program])
                .args(["-lcurl", "-lcjson", "-lm"])
                .output()
                .unwrap();
            assert!(built.status.success(), "{}", stderr(&built));
            vec![program]
        }
    }
}

/// Gives where the Rust watcher and all its mistakes lie, compiled as the programs of one package,
/// so that what they depend on is built once.
fn rust_programs() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| {
        let test = std::env::current_exe().unwrap();
        let target = test.ancestors().nth(3).unwrap().join("watchers-rust");
        let package = target.join("package");
        let programs = package.join("src/bin");
        std::fs::create_dir_all(&programs).unwrap();
        let copy = |from: String, to: &str| std::fs::copy(from, package.join(to)).unwrap();
        copy(in_tests("watchers/rust/Cargo.toml"), "Cargo.toml");
        // The versions are those of the workspace; cargo leaves out what is not needed.
        copy(in_tests("../Cargo.lock"), "Cargo.lock");
        let correct = std::fs::read_to_string(in_tests("watchers/rust/src/main.rs")).unwrap();
        let mistakes = mistakes();
        let of_rust = mistakes.iter().filter(|mistake| mistake.watcher == "rust");
        let mistaken = of_rust.map(|mistake| (mistake.name.clone(), with_mistake(mistake)));
        let wanted: Vec<(String, String)> = std::iter::once(("correct".to_owned(), correct))
            .chain(mistaken)
            .collect();
        for file in std::fs::read_dir(&programs).unwrap() {
            let file = file.unwrap().path();
            if !wanted
                .iter()
                .any(|(name, _)| file.ends_with(format!("{name}.rs")))
            {
                std::fs::remove_file(file).unwrap();
            }
        }
        for (name, text) in wanted {
            let file = programs.join(format!("{name}.rs"));
            // What has not changed is not compiled again.
            if std::fs::read_to_string(&file).ok().as_ref() != Some(&text) {
                std::fs::write(file, text).unwrap();
            }
        }
        let built = Command::new(env!("CARGO"))
            .args(["build", "--quiet", "--offline", "--target-dir"])
            .arg(&target)
            .current_dir(&package)
            .output()
            .unwrap();
        assert!(built.status.success(), "{}", stderr(&built));
        target.join("debug")
    })
}

fn judge(options: &[&str], words: &[String]) -> Output {
    // Catalogues side by side would wait for each other, and strain the machine.
    static CATALOGUE: Mutex<()> = Mutex::new(());
    let _catalogue = (!options.contains(&"--only")).then(|| CATALOGUE.lock());
    coldbed()
        .arg("check")
        .args(["--interval", &format!("{INTERVAL_S}s")])
        .args(options)
        .arg("--")
        .args(words)
        .args(["{url}", "{key}", "{interval}", "{authority}"])
        .output()
        .unwrap()
}

/// What only a watcher with buttons can be judged by.
const COMMANDS: [&str; 3] = [
    "command-not-sent-once",
    "command-repeated-after-lost-answer",
    "refused-command-repeated",
];

/// What only a watcher that tells of it can be judged by.
const WORDS: [&str; 3] = [
    "hot-while-off-called-safe",
    "job-name-in-any-script",
    "error-without-its-reason",
];

/// What a watcher lacks that does not look at the host's own clock. Two of them do.
const CLOCK: [&str; 2] = ["frozen-host", "answers-out-of-order"];

/// Gives the words that run a correct watcher, of which a copy is made in `dir`.
fn correct_command(watcher: &str, dir: &Path) -> Vec<String> {
    if watcher == "rust" {
        let program = rust_programs().join("correct");
        return vec![program.to_str().unwrap().to_owned()];
    }
    let name = Path::new(source(watcher)).file_name().unwrap();
    let file = dir.join(name);
    std::fs::copy(in_tests(&format!("watchers/{}", source(watcher))), &file).unwrap();
    command(watcher, &file)
}

fn assert_passes(watcher: &str) {
    assert_passes_part(watcher, "1/1");
}

/// Gives the part of the catalogue that is judged by: all of it, if that is asked for.
fn part(usual: &str) -> &str {
    match std::env::var_os("COLDBED_WHOLE") {
        Some(_) => "1/1",
        None => usual,
    }
}

fn assert_passes_part(watcher: &str, usual: &str) {
    let dir = tempfile::tempdir().unwrap();
    let words = correct_command(watcher, dir.path());
    let judge = |options: &[&str]| judge(&[&AS_JSON, options].concat(), &words);
    let silent = match watcher {
        "python" | "node" => &[][..],
        _ => &WORDS[..],
    };
    let lacking = match watcher {
        "python" => &[][..],
        _ => &CLOCK[..],
    };
    let output = judge(&["--part", part(usual)]);
    assert_passes_all_but(&output, judge, &[&COMMANDS, silent].concat(), lacking);
}

/// Tells whether the first claim of a running watcher is something else than unknown.
fn believes(watcher: &mut Command) -> bool {
    let mut child = watcher
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut line = String::new();
    let mut output = BufReader::new(child.stdout.take().unwrap());
    output.read_line(&mut line).unwrap();
    child.kill().unwrap();
    child.wait().unwrap();
    let sighting: serde_json::Value = serde_json::from_str(&line).unwrap();
    sighting["phase"] != "unknown"
}

/// Reads the mistakes of all areas.
fn mistakes() -> Vec<Mistake> {
    let files = std::fs::read_dir(in_tests("watchers/mistakes")).unwrap();
    let files = files.map(|file| file.unwrap().path());
    let mut files: Vec<PathBuf> = files
        .filter(|file| {
            file.extension()
                .is_some_and(|extension| extension == "toml")
        })
        .collect();
    files.sort();
    let of_file = |file: &PathBuf| {
        let text = std::fs::read_to_string(file).unwrap();
        let collection: Collection =
            toml::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        collection.mistake
    };
    files.iter().flat_map(of_file).collect()
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

/// Gives the source of the Python watcher with the mistake of that name; the correct one without a name.
pub(crate) fn python_with(mistake: Option<&str>) -> String {
    match mistake {
        None => std::fs::read_to_string(in_tests("watchers/python/watch.py")).unwrap(),
        Some(name) => {
            let found = mistakes().into_iter().find(|mistake| mistake.name == name);
            with_mistake(&found.unwrap_or_else(|| panic!("{name} is in the collection")))
        }
    }
}

/// Gives the words that run a watcher with a mistake.
fn mistaken_command(mistake: &Mistake, dir: &Path) -> Vec<String> {
    if mistake.watcher == "rust" {
        let program = rust_programs().join(&mistake.name);
        return vec![program.to_str().unwrap().to_owned()];
    }
    let extension = source(&mistake.watcher).rsplit('.').next().unwrap();
    let file = dir.join(format!("{}.{extension}", mistake.name));
    std::fs::write(&file, with_mistake(mistake)).unwrap();
    command(&mistake.watcher, &file)
}

/// Gives why a mistake was not caught, or nothing if it was.
fn escapes(mistake: &Mistake, dir: &Path) -> Option<String> {
    // Once is enough: what is tried again is whether a correct watcher is accused.
    let options = ["--repeats", "0", "--only", &mistake.caught_by];
    let words = mistaken_command(mistake, dir);
    let output = match mistake.watcher.as_str() {
        "control" => judge_control(&options, dir, &words),
        "senml" => {
            put_watch_beside(dir);
            judge(&[&options[..], &["--dialect", "senml"]].concat(), &words)
        }
        "stream" => {
            put_watch_beside(dir);
            judge(&options, &words)
        }
        _ => judge(&options, &words),
    };
    let report = stdout(&output);
    let caught = report.lines().any(|line| {
        let is_broken = line.starts_with("FAILED") || line.starts_with("lacks");
        is_broken && line.split_whitespace().nth(1) == Some(&mistake.caught_by)
    });
    (!caught).then(|| format!("{}: {report}{}", mistake.name, stderr(&output)))
}

/// Puts what the other Python watchers are built on into a folder.
fn put_watch_beside(dir: &Path) {
    let watch = in_tests("watchers/python/watch.py");
    std::fs::copy(watch, dir.join("watch.py")).unwrap();
}

/// Judges the watcher with buttons by its watcher file, with another program in its place.
fn judge_control(options: &[&str], dir: &Path, words: &[String]) -> Output {
    let from = |name: &str| in_tests(&format!("watchers/python/{name}"));
    put_watch_beside(dir);
    let program = Path::new(&words[1]).file_name().unwrap().to_str().unwrap();
    let text = std::fs::read_to_string(from("control.toml")).unwrap();
    let file = dir.join(format!("{program}.toml"));
    std::fs::write(&file, text.replace("control.py", program)).unwrap();
    coldbed()
        .args(["check", "--watcher"])
        .arg(&file)
        .args(options)
        .output()
        .unwrap()
}

fn assert_mistakes_are_caught(watcher: &str) {
    let mistakes: Vec<Mistake> = mistakes()
        .into_iter()
        .filter(|mistake| mistake.watcher == watcher)
        .collect();
    assert!(!mistakes.is_empty());
    let dir = tempfile::tempdir().unwrap();
    let (next, escaped) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    // A watcher sleeps most of the time, so several are judged at once.
    std::thread::scope(|scope| {
        for _ in 0..8 {
            scope.spawn(|| {
                while let Some(mistake) = mistakes.get(next.fetch_add(1, Ordering::Relaxed)) {
                    // Judged before the lock is taken, or they would wait for each other.
                    let escape = escapes(mistake, dir.path());
                    escaped.lock().unwrap().extend(escape);
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
fn every_edit_applies_exactly_once() {
    let mut names = BTreeSet::new();
    for mistake in mistakes() {
        let correct = in_tests(&format!("watchers/{}", source(&mistake.watcher)));
        let correct = std::fs::read_to_string(correct).unwrap();
        assert_ne!(with_mistake(&mistake), correct, "{}", mistake.name);
        let of_its_language = mistake.name.starts_with(&format!("{}-", mistake.watcher));
        assert!(of_its_language, "{}", mistake.name);
        assert!(names.insert(mistake.name.clone()), "{} twice", mistake.name);
    }
    assert!(!names.is_empty());
}

#[test]
fn only_a_host_with_a_good_certificate_is_believed() {
    let dir = tempfile::tempdir().unwrap();
    let languages = ["python", "node", "shell", "c", "rust"];
    let commands = languages.map(|watcher| correct_command(watcher, dir.path()));
    for kind in ["good", "expired", "wrong-name", "unknown-issuer"] {
        let authority = dir.path().join(format!("{kind}.pem"));
        let authority = authority.to_str().unwrap();
        let host = Served::start(&["--tls", authority, "--tls-certificate", kind]);
        let url = host.url.as_str();
        for words in &commands {
            let ask = |more: &[&str]| {
                let mut watcher = Command::new(&words[0]);
                watcher.args(&words[1..]).args([url, "key", INTERVAL_S]);
                believes(watcher.args(more))
            };
            assert_eq!(ask(&[authority]), kind == "good", "{kind}: {words:?}");
            assert!(!ask(&[]), "{kind}, of an authority unknown: {words:?}");
        }
        let mut reference = coldbed();
        reference.args(["watch", url, "--authority", authority]);
        assert_eq!(believes(&mut reference), kind == "good", "{kind}");
        assert!(!believes(coldbed().args(["watch", url])), "{kind}");
    }
}

#[test]
fn the_reference_watcher_passes_every_check() {
    let judge = |options: &[&str]| run(&[&["check"], &AS_JSON[..], options].concat());
    assert_passes_all_but(&judge(&[]), judge, &COMMANDS, &[]);
}

#[test]
fn the_python_watcher_passes_every_check() {
    assert_passes("python");
}

#[test]
fn a_watcher_of_another_dialect_passes_every_other_check() {
    let file = in_tests("watchers/python/watch_senml.py");
    let words = ["python3".to_owned(), file];
    let as_told = [&AS_JSON[..], &["--dialect", "senml"]].concat();
    let judge = |options: &[&str]| judge(&[&as_told, options].concat(), &words);
    // Records in a list have no members that could be moved, and no reasons that could be added to.
    let unlike = [
        "extra-heater-ignored",
        "unknown-reason-ignored",
        "moved-member-is-unknown",
    ];
    let unlike = [COMMANDS, WORDS, unlike].concat();
    let output = judge(&["--part", part("2/2")]);
    assert_passes_all_but(&output, judge, &unlike, &[]);
}

#[test]
fn a_watcher_with_buttons_sends_each_command_once() {
    let dir = tempfile::tempdir().unwrap();
    let words = correct_command("control", dir.path());
    let only = COMMANDS.map(|id| ["--only", id]).concat();
    let judge = |options: &[&str]| judge_control(&[&AS_JSON, options].concat(), dir.path(), &words);
    let output = judge(&only);
    let passed = assert_passes_all_but(&output, judge, &[], &[]);
    assert_eq!(passed, 3, "{}", stdout(&output));
}

#[test]
fn each_mistake_in_passing_commands_on_is_caught_by_the_check_that_is_there_for_it() {
    assert_mistakes_are_caught("control");
}

#[test]
fn a_watcher_that_subscribes_to_a_stream_is_judged_by_what_it_is_told() {
    let dir = tempfile::tempdir().unwrap();
    put_watch_beside(dir.path());
    let words = correct_command("stream", dir.path());
    // Its whole catalogue takes a quarter of an hour: a stream is silent for long before it is dead, so that each
    // check lasts longer.
    let only = [
        "refused-connection",
        "unreachable-host",
        "stream-closed",
        "silent-stream",
    ];
    let options = only.map(|id| ["--only", id]).concat();
    let judge = |options: &[&str]| judge(&[&AS_JSON, options].concat(), &words);
    let output = judge(&options);
    let passed = assert_passes_all_but(&output, judge, &[], &[]);
    assert_eq!(passed, 4, "{}", stdout(&output));
}

#[test]
fn each_mistake_with_a_stream_is_caught_by_the_check_that_is_there_for_it() {
    assert_mistakes_are_caught("stream");
}

// Each whole catalogue takes more than a minute. Of these four only a part is judged unless
// `COLDBED_WHOLE` is set; `tests/fairness.py` judges all of all.

#[test]
fn the_node_watcher_passes_every_other_check() {
    assert_passes_part("node", "1/2");
}

#[test]
fn the_rust_watcher_passes_every_other_check() {
    assert_passes_part("rust", "2/2");
}

/// A shell starts five programs a poll: its whole catalogue keeps two cores busy for five minutes.
#[test]
fn the_shell_watcher_passes_every_third_check() {
    assert_passes_part("shell", "1/3");
}

#[test]
fn the_c_watcher_passes_every_other_check() {
    assert_passes_part("c", "1/2");
}

#[test]
fn each_mistake_with_another_dialect_is_caught_by_the_check_that_is_there_for_it() {
    assert_mistakes_are_caught("senml");
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

#[test]
fn each_mistake_in_rust_is_caught_by_the_check_that_is_there_for_it() {
    assert_mistakes_are_caught("rust");
}
