//! A watcher's own words.

use coldbed_mock::sim::Phase;

use super::{Raw, Word};
use crate::watcher::{Claim, PhaseClaim};

/// Are a watcher's words for each phase.
#[derive(Debug, Clone)]
pub(crate) struct PhaseWords {
    /// Each word with the phase it says; `None` says that the watcher does not know.
    words: Vec<(Word, Option<Phase>)>,
}

impl PhaseWords {
    /// Takes words. A phase that has none, and not knowing where it has none, keep their own word,
    /// unless that word says something else.
    pub(crate) fn new(mut words: Vec<(Word, Option<Phase>)>) -> Self {
        let all = Phase::ALL.into_iter().map(Some).chain([None]);
        for phase in all {
            let own = phase.map_or("unknown", Phase::word);
            let has_words = words.iter().any(|(_, of)| *of == phase);
            let is_taken = words.iter().any(|(word, _)| word.is(&Raw::text(own)));
            if !has_words && !is_taken {
                words.push((Word::Text(own.to_owned()), phase));
            }
        }
        Self { words }
    }

    /// Reads a value as a phase.
    pub(crate) fn read(&self, raw: &Raw) -> Claim<PhaseClaim> {
        match self.words.iter().find(|(word, _)| word.is(raw)) {
            Some((_, Some(phase))) => Claim::Value(PhaseClaim::Known(*phase)),
            Some((_, None)) => Claim::Unknown,
            None if *raw == Raw::Nothing => Claim::Unknown,
            None => Claim::Value(PhaseClaim::Other(raw.to_string())),
        }
    }

    /// Gives each word with the phase it says, in words.
    pub(crate) fn each(&self) -> impl Iterator<Item = (String, &'static str)> {
        self.words
            .iter()
            .map(|(word, phase)| (word.to_string(), phase.map_or("unknown", Phase::word)))
    }
}

impl Default for PhaseWords {
    fn default() -> Self {
        Self::new(Vec::new())
    }
}

/// Are a watcher's words for on and off.
#[derive(Debug, Clone)]
pub(crate) struct SwitchWords {
    /// On.
    pub(crate) on: Vec<Word>,
    /// Off.
    pub(crate) off: Vec<Word>,
}

impl Default for SwitchWords {
    /// `true` and `on`, `false` and `off` (own choice).
    fn default() -> Self {
        let words = |flag, word: &str| vec![Word::Flag(flag), Word::Text(word.to_owned())];
        Self {
            on: words(true, "on"),
            off: words(false, "off"),
        }
    }
}

impl SwitchWords {
    /// Reads a value as on or off; `None` if it is neither.
    pub(crate) fn read(&self, raw: &Raw) -> Option<bool> {
        if self.on.iter().any(|word| word.is(raw)) {
            return Some(true);
        }
        self.off.iter().any(|word| word.is(raw)).then_some(false)
    }
}
