//! The fuzzer's targets, driven a little way on the stable toolchain: each takes its seeds, and then
//! the same mutations of them in every run, some thousand in all.
//!
//! `fuzz/README.md` tells how to go on from here.

#[path = "../../fuzz/src/lib.rs"]
#[expect(unreachable_pub, reason = "for the fuzzer it is a library")]
mod targets;

use proptest::prelude::*;
use proptest::sample::Index;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

use targets::Target;

/// Is one step of a mutation.
#[derive(Debug, Clone)]
enum Edit {
    Overwrite(Index, u8),
    Insert(Index, Vec<u8>),
    Remove(Index, Index),
    Repeat(Index, Index),
    /// Goes on with the end of another seed.
    Cross(Index, Index, Index),
}

fn edit() -> impl Strategy<Value = Edit> {
    // What numbers, strings and nesting are broken by, in each of the languages.
    let odd = prop::sample::select(vec![
        "-1",
        "0",
        "1e999",
        "nan",
        "inf",
        "99999999999999999999",
        "\"",
        "{{",
        "}}",
        "{%",
        "\n\n",
        "[",
        "]",
        "=",
        "\\u0000",
        "\u{feff}",
        "%",
        ";",
        "(",
        "G1 X",
        "/../",
        "null",
        "'''",
    ]);
    prop_oneof![
        3 => (any::<Index>(), any::<u8>()).prop_map(|(at, byte)| Edit::Overwrite(at, byte)),
        3 => (any::<Index>(), odd).prop_map(|(at, text)| Edit::Insert(at, text.into())),
        1 => (any::<Index>(), prop::collection::vec(any::<u8>(), 1..8))
            .prop_map(|(at, bytes)| Edit::Insert(at, bytes)),
        2 => any::<(Index, Index)>().prop_map(|(from, to)| Edit::Remove(from, to)),
        1 => any::<(Index, Index)>().prop_map(|(from, to)| Edit::Repeat(from, to)),
        1 => any::<(Index, Index, Index)>()
            .prop_map(|(seed, from, to)| Edit::Cross(seed, from, to)),
    ]
}

impl Edit {
    fn apply(&self, bytes: &mut Vec<u8>, seeds: &[Vec<u8>]) {
        let place = |at: &Index, length: usize| at.index(length + 1);
        let length = bytes.len();
        match self {
            Self::Overwrite(at, byte) if length > 0 => bytes[at.index(length)] = *byte,
            Self::Overwrite(_, byte) => bytes.push(*byte),
            Self::Insert(at, new) => {
                let at = place(at, length);
                bytes.splice(at..at, new.iter().copied());
            }
            Self::Remove(from, to) => {
                bytes.drain(span(place(from, length), place(to, length)));
            }
            Self::Repeat(from, to) => {
                let part = span(place(from, length), place(to, length));
                let (at, copy) = (part.end, bytes[part].to_vec());
                bytes.splice(at..at, copy);
            }
            Self::Cross(seed, from, to) => {
                let other = seed.get(seeds);
                bytes.truncate(place(from, length));
                bytes.extend_from_slice(&other[place(to, other.len())..]);
            }
        }
    }
}

fn span(one: usize, other: usize) -> std::ops::Range<usize> {
    one.min(other)..one.max(other)
}

fn target(name: &str) -> &'static Target {
    let found = targets::TARGETS.iter().find(|target| target.name == name);
    found.expect("a target of that name")
}

/// Drives a target with so many mutated inputs: all together take some seconds.
fn drive(name: &str, runs: u32) {
    let target = target(name);
    let seeds = (target.seeds)();
    assert!(!seeds.is_empty());
    for seed in &seeds {
        (target.run)(seed);
    }
    let config = Config {
        cases: runs,
        failure_persistence: None,
        ..Config::default()
    };
    let mut runner =
        TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    let inputs = (any::<Index>(), prop::collection::vec(edit(), 1..5));
    let driven = runner.run(&inputs, |(seed, edits)| {
        let mut bytes = seed.get(&seeds).clone();
        for edit in &edits {
            edit.apply(&mut bytes, &seeds);
        }
        (target.run)(&bytes);
        Ok(())
    });
    driven.unwrap_or_else(|error| panic!("{name}: {error}"));
}

#[test]
fn what_is_read_as_a_scenario_can_be_simulated() {
    drive("scenario", 3000);
}

#[test]
fn what_is_read_as_a_dialect_can_be_shown() {
    drive("dialect", 300);
}

#[test]
fn what_is_read_as_a_part_program_can_be_walked() {
    drive("part_program", 3000);
}

#[test]
fn every_request_has_an_answer_in_every_dialect() {
    drive("request", 1000);
}

#[test]
fn every_drift_can_be_taken_back() {
    drive("drift", 5000);
}

#[test]
fn what_is_read_as_a_session_is_written_again_as_it_was() {
    drive("session", 20_000);
}

#[test]
fn what_is_imported_from_an_archive_is_a_session() {
    drive("archive", 20_000);
}

#[test]
fn what_is_imported_from_a_capture_is_a_session() {
    drive("capture", 30_000);
}

/// A fuzzer that begins with what its target throws away at once finds nothing.
#[test]
fn the_seeds_get_far() {
    use coldbed_mock::dialect::DialectFile;
    use coldbed_mock::drift::{Change, Drift};
    use coldbed_mock::scenario::Scenario;
    use coldbed_session::{SessionFile, capture, har};

    let text = |seed: Vec<u8>| String::from_utf8(seed).unwrap();
    let seeds = |name: &str| (target(name).seeds)().into_iter().map(text);
    let read = |text: &String| Scenario::parse("seed", text).is_ok();
    assert!(seeds("scenario").filter(read).count() > 10);
    assert!(seeds("dialect").all(|text| DialectFile::parse("seed", &text).is_ok()));
    let kinds: std::collections::BTreeSet<String> = seeds("drift")
        .filter_map(|text| {
            let (drift, body) = text.split_once('\n')?;
            let drift: Drift = serde_json::from_str(drift).ok()?;
            let body = serde_json::from_str(body).ok()?;
            drift.fits(&body).is_ok().then(|| drift.change.name())
        })
        .collect();
    let all: std::collections::BTreeSet<String> = Change::names().into_iter().collect();
    assert_eq!(kinds, all);
    assert!(seeds("request").count() > 30);
    assert!(seeds("session").all(|text| SessionFile::read(&text).is_ok()));
    for text in seeds("archive") {
        let imported = har::import(&text, None);
        assert!(imported.is_ok(), "{imported:?}: {text}");
    }
    for seed in (target("capture").seeds)() {
        let imported = capture::import(&seed, &capture::Options::default()).unwrap();
        assert_eq!(imported.session.exchanges.len(), 1);
        assert_eq!(imported.left_out, []);
    }
}
