//! The sets of words that a table of a host's words may be for: the one place that lists them.

use std::sync::LazyLock;

use crate::dialect::names;
use crate::sim::{HeaterKind, JOB_REASONS, JobState, Phase, PrinterState, printer_reasons};

/// Is a set of words that the truth speaks in.
pub(super) struct Set {
    /// What they are, in the plural.
    pub(super) name: &'static str,
    pub(super) words: Vec<String>,
    /// A word that a body puts where there is none of the others.
    pub(super) also: Option<&'static str>,
}

/// The sets, the smaller ones first.
static SETS: LazyLock<[Set; 6]> = LazyLock::new(|| {
    [
        Set {
            name: "kinds of heaters",
            words: owned(&HeaterKind::ALL.map(HeaterKind::word)),
            also: None,
        },
        Set {
            name: "`printer-state` keywords",
            words: owned(&PrinterState::ALL.map(PrinterState::word)),
            also: None,
        },
        Set {
            name: "phases",
            words: owned(&Phase::ALL.map(Phase::word)),
            also: None,
        },
        Set {
            name: "`job-state` keywords",
            words: owned(&JobState::ALL.map(JobState::word)),
            also: None,
        },
        Set {
            name: "`job-state-reasons` keywords",
            words: owned(&JOB_REASONS),
            also: Some("none"),
        },
        Set {
            name: "`printer-state-reasons` keywords",
            words: printer_reasons(),
            also: Some("none"),
        },
    ]
});

fn owned(words: &[&str]) -> Vec<String> {
    words.iter().map(|&word| word.to_owned()).collect()
}

impl Set {
    /// Finds the set that keys mostly belong to: more than half of them, more than to any other,
    /// and to the smallest of several. A key that is almost a word counts for it.
    pub(super) fn of(keys: &[&str]) -> Option<&'static Self> {
        let mut best: Option<(usize, &Self)> = None;
        for set in SETS.iter() {
            let count = keys.iter().filter(|key| set.has_one_like(key)).count();
            if count * 2 > keys.len() && best.is_none_or(|(most, _)| count > most) {
                best = Some((count, set));
            }
        }
        best.map(|(_, set)| set)
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.also == Some(key) || self.words.iter().any(|word| word == key)
    }

    fn has_one_like(&self, key: &str) -> bool {
        self.has(key) || self.nearest(key).is_some()
    }

    /// Gives the word that a key may have been meant as.
    pub(super) fn nearest(&self, key: &str) -> Option<String> {
        names::nearest(key, self.words.iter().map(String::as_str))
    }
}
