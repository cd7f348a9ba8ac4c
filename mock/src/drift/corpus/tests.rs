use std::collections::BTreeSet;

use serde::Deserialize as _;
use serde::de::IgnoredAny;
use serde_json::{Value, json};

use super::*;
use crate::drift::{Corpus, Drift, DriftClass};

fn is_taken(bytes: &[u8]) -> bool {
    serde_json::from_slice::<Value>(bytes).is_ok()
}

#[test]
fn every_entry_has_a_name_of_its_own_and_each_section_has_what_it_rules_on() {
    let names: BTreeSet<&str> = corpus().iter().map(|entry| &*entry.id).collect();
    assert_eq!(names.len(), corpus().len());
    let texts: BTreeSet<&[u8]> = corpus().iter().map(|entry| &*entry.bytes).collect();
    assert_eq!(
        texts.len(),
        corpus().len(),
        "two entries have the same text"
    );
    let of = |section, verdict| {
        let is_of = |entry: &&CorpusEntry| entry.section == section && entry.verdict == verdict;
        corpus().iter().filter(is_of).count()
    };
    for section in ["2", "3", "4", "5", "6", "7"] {
        assert!(of(section, CorpusVerdict::Accept) > 2, "{section}");
        assert!(of(section, CorpusVerdict::Reject) > 9, "{section}");
    }
    for section in ["4", "6", "8.1", "8.2", "9"] {
        assert!(of(section, CorpusVerdict::May) > 0, "{section}");
    }
    assert!(corpus().len() > 250, "{}", corpus().len());
}

// serde_json has no extension; tests/external/json_corpus.py asks two other readers.
#[test]
fn a_reader_without_extensions_takes_and_refuses_what_it_has_to() {
    for entry in corpus() {
        match entry.verdict {
            CorpusVerdict::Accept => assert!(is_taken(&entry.bytes), "{}", entry.id),
            CorpusVerdict::Reject => assert!(!is_taken(&entry.bytes), "{}", entry.id),
            CorpusVerdict::May => {}
        }
    }
}

// Source: RFC 8259 sections 4, 6 and 9: what may be refused is of the grammar all the same, so a
// reader that keeps nothing and has no limits takes it. Section 8.1: but for the byte order mark.
#[test]
fn what_may_be_refused_is_of_the_grammar_but_for_the_byte_order_mark() {
    for entry in corpus() {
        if entry.verdict != CorpusVerdict::May || entry.section == "8.1" {
            continue;
        }
        if entry.section == "8.2" {
            // This reader refuses halves of pairs also where it keeps nothing.
            let whole = String::from_utf8(entry.bytes.clone()).unwrap();
            let paired = whole.replace("\\ud", "\\u0");
            assert!(is_taken(paired.as_bytes()), "{}", entry.id);
            continue;
        }
        if entry.id.starts_with("depth-") {
            let (opened, closed) = (b"[{", b"]}");
            let count = |brackets: &[u8]| {
                let bracket = |byte: &&u8| brackets.contains(byte);
                entry.bytes.iter().filter(bracket).count()
            };
            assert_eq!(count(opened), count(closed), "{}", entry.id);
            continue;
        }
        let mut reader = serde_json::Deserializer::from_slice(&entry.bytes);
        assert!(IgnoredAny::deserialize(&mut reader).is_ok(), "{}", entry.id);
        assert!(reader.end().is_ok(), "{}", entry.id);
    }
}

#[test]
fn in_a_body_an_entry_is_still_what_it_was() {
    let body = json!({"a": 1, "b": {"c": "d"}, "e": [1]});
    for entry in corpus() {
        for (pointer, member) in [("/a", None), ("/b/c", None), ("/b", Some("more"))] {
            let change = Corpus {
                entry: entry.id.clone(),
                member: member.map(str::to_owned),
            };
            let drift = Drift::of(pointer, change);
            let spelled = drift.spell(&body).unwrap();
            match (entry.verdict, member) {
                (CorpusVerdict::Accept, None) => {
                    assert_eq!(drift.class, DriftClass::Breaking);
                    assert!(is_taken(&spelled), "{}", drift.explain());
                }
                (CorpusVerdict::Accept, Some(member)) => {
                    assert_eq!(drift.class, DriftClass::Compatible);
                    let mut parsed: Value = serde_json::from_slice(&spelled).unwrap();
                    let more = parsed["b"].as_object_mut().unwrap().remove(member);
                    assert_eq!(parsed, body, "{}", entry.id);
                    assert_eq!(more, serde_json::from_slice(&entry.bytes).ok());
                }
                (CorpusVerdict::Reject, _) => {
                    assert_eq!(drift.class, DriftClass::Hostile);
                    assert!(!is_taken(&spelled), "{}", drift.explain());
                }
                (CorpusVerdict::May, _) => assert_eq!(drift.class, DriftClass::Hostile),
            }
        }
    }
}
