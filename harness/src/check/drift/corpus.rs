//! Bodies that are no JSON, or that a parser may refuse, text by text.

use coldbed_mock::drift::{Corpus, CorpusVerdict, corpus};

use super::spots;
use super::trial::{Trial, words};
use super::{Check, Context, drift_check};

/// How a text of the corpus is judged.
const SURVIVED_BRIEFLY: &str = "the watcher lives, goes on asking, claims nothing that is not true of the printer, \
     and knows again after it";

pub(super) const CHECKS: &[Check] = &[
    drift_check!(
        "json-corpus-survived-structure",
        structure,
        "what is no JSON is no answer: white space, words, lists, depth",
        "RFC 8259 sections 2, 3, 5 and 9",
        "a text of the corpus is the whole body, or one more member of it, for one answer, text by text; the seed says which",
        SURVIVED_BRIEFLY
    ),
    drift_check!(
        "json-corpus-survived-objects",
        objects,
        "what is no JSON is no answer: objects",
        "RFC 8259 section 4",
        "a text of the corpus is the whole body, or one more member of it, for one answer, text by text; the seed says which",
        SURVIVED_BRIEFLY
    ),
    drift_check!(
        "json-corpus-survived-numbers",
        numbers,
        "what is no JSON is no answer: numbers",
        "RFC 8259 section 6",
        "a text of the corpus is the whole body, or one more member of it, for one answer, text by text; the seed says which",
        SURVIVED_BRIEFLY
    ),
    drift_check!(
        "json-corpus-survived-strings",
        strings,
        "what is no JSON is no answer: texts",
        "RFC 8259 section 7",
        "a text of the corpus is the whole body, or one more member of it, for one answer, text by text; the seed says which",
        SURVIVED_BRIEFLY
    ),
    drift_check!(
        "json-corpus-survived-encoding",
        encoding,
        "what is no JSON is no answer: bytes that are no text",
        "RFC 8259 sections 8.1 and 8.2",
        "a text of the corpus is the whole body, or one more member of it, for one answer, text by text; the seed says which",
        SURVIVED_BRIEFLY
    ),
];

fn structure(context: &Context) -> Vec<Trial> {
    of_sections(context, &["2", "3", "5", "9"])
}

fn objects(context: &Context) -> Vec<Trial> {
    of_sections(context, &["4"])
}

fn numbers(context: &Context) -> Vec<Trial> {
    of_sections(context, &["6"])
}

fn strings(context: &Context) -> Vec<Trial> {
    of_sections(context, &["7"])
}

fn encoding(context: &Context) -> Vec<Trial> {
    of_sections(context, &["8.1", "8.2"])
}

fn of_sections(context: &Context, sections: &[&str]) -> Vec<Trial> {
    let object = spots::outermost(context);
    let entries = corpus().iter().filter(|entry| {
        sections.contains(&entry.section.as_str()) && entry.verdict != CorpusVerdict::Accept
    });
    entries
        .flat_map(|entry| {
            [None, Some("more".to_owned())].map(|member| {
                let (spot, place) = match &member {
                    None => (spots::whole(), "the whole body".to_owned()),
                    Some(_) => (
                        object.clone(),
                        format!("one more member of {}", words(&object)),
                    ),
                };
                let name = format!("`{}` at {place}", entry.id);
                let entry = entry.id.clone();
                let mut trial = Trial::of(&spot, Corpus { entry, member }).brief();
                trial.tried.label = name;
                trial
            })
        })
        .collect()
}
