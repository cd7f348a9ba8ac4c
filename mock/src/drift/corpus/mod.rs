//! Texts that are JSON, that are none, and that may be taken or refused, by rule of RFC 8259.

use std::collections::HashMap;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

/// Is a text to hold a reader of JSON against.
///
/// The texts are this project's own, written from the grammar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CorpusEntry {
    /// Its name: `number-leading-zero`.
    pub id: String,
    /// The section of RFC 8259 that its rule is in.
    pub section: String,
    /// What that rule says, in our words.
    pub rule: String,
    /// What a reader does with it.
    pub verdict: CorpusVerdict,
    /// The text, which need not be UTF-8.
    pub bytes: Vec<u8>,
}

/// Says what a reader of JSON does with a text.
///
/// # Source
/// RFC 8259 section 9.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CorpusVerdict {
    /// It has to take it.
    Accept,
    /// It is no JSON.
    Reject,
    /// It may take it or refuse it.
    May,
}

const TEXT: &str = include_str!("rfc8259.toml");

static CORPUS: LazyLock<Vec<CorpusEntry>> = LazyLock::new(|| {
    let file: File = toml::from_str(TEXT).expect("the corpus is read by a test");
    file.rule.into_iter().flat_map(Rule::entries).collect()
});

static BY_ID: LazyLock<HashMap<&str, &CorpusEntry>> =
    LazyLock::new(|| CORPUS.iter().map(|entry| (&*entry.id, entry)).collect());

/// Gives all texts, in the order of the sections.
pub fn corpus() -> &'static [CorpusEntry] {
    &CORPUS
}

pub(super) fn entry(id: &str) -> Option<&'static CorpusEntry> {
    BY_ID.get(id).copied()
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    rule: Vec<Rule>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Rule {
    section: String,
    says: String,
    entries: Vec<Entry>,
}

#[derive(Deserialize)]
struct Entry {
    id: String,
    verdict: CorpusVerdict,
    #[serde(flatten)]
    form: TextForm,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum TextForm {
    Plain {
        text: String,
    },
    Hex {
        hex: String,
    },
    /// `open` so many times, `inner`, `close` as many times, all of it between `around`.
    Repeated {
        open: String,
        close: String,
        times: usize,
        #[serde(default)]
        inner: String,
        #[serde(default)]
        around: String,
    },
}

impl Rule {
    fn entries(self) -> impl Iterator<Item = CorpusEntry> {
        self.entries.into_iter().map(move |entry| CorpusEntry {
            id: entry.id,
            section: self.section.clone(),
            rule: self.says.clone(),
            verdict: entry.verdict,
            bytes: entry.form.bytes(),
        })
    }
}

impl TextForm {
    fn bytes(self) -> Vec<u8> {
        match self {
            Self::Plain { text } => text.into_bytes(),
            Self::Hex { hex } => hex
                .split(' ')
                .map(|byte| u8::from_str_radix(byte, 16).expect("the corpus is read by a test"))
                .collect(),
            Self::Repeated {
                open,
                close,
                times,
                inner,
                around,
            } => [
                &*around,
                &open.repeat(times),
                &inner,
                &close.repeat(times),
                &around,
            ]
            .concat()
            .into_bytes(),
        }
    }
}

#[cfg(test)]
mod tests;
