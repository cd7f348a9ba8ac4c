//! Where one quantity stands in a line, and what is made of it.

use regex::Regex;

use super::{PhaseWords, Quantity, Raw, Said, SwitchWords, Unit, Word};
use crate::watcher::{Claim, PhaseClaim};

/// Says where one quantity stands in a line, and what is made of it.
#[derive(Debug, Clone)]
pub(crate) struct Rule {
    /// The quantity.
    pub(crate) quantity: Quantity,
    /// A JSON Pointer (RFC 6901), or the name of a group.
    pub(crate) at: String,
    /// What is made of it.
    pub(crate) kind: Kind,
    /// What says that the watcher does not know it, beside the words for every field.
    pub(crate) unknown: Vec<Word>,
}

/// Says what is made of a value.
#[derive(Debug, Clone)]
pub(crate) enum Kind {
    /// A phase.
    Phase,
    /// A number in a unit.
    Number(Unit),
    /// On or off.
    Switch(SwitchWords),
    /// Text as it is.
    Text,
}

impl Rule {
    /// Reads a value. The second is what was wrong with it.
    pub(super) fn read(
        &self,
        raw: &Raw,
        phases: &PhaseWords,
        unknown: &[Word],
    ) -> (Said, Option<String>) {
        let mut words = self.unknown.iter().chain(unknown);
        if *raw == Raw::Nothing || words.any(|word| word.is(raw)) {
            return (self.kind.unknown(), None);
        }
        match &self.kind {
            Kind::Phase => {
                let claim = phases.read(raw);
                let problem = match &claim {
                    Claim::Value(PhaseClaim::Other(word)) => Some(format!(
                        "the word `{word}` is not known [add it to sightings.words]"
                    )),
                    _ => None,
                };
                (Said::Phase(claim), problem)
            }
            Kind::Number(unit) => match unit.read(raw) {
                Some(number) => (Said::Number(Claim::Value(number)), None),
                None => (Said::Number(Claim::Unknown), Some(no(raw, unit.expected()))),
            },
            Kind::Switch(words) => match words.read(raw) {
                Some(on) => (Said::Switch(Claim::Value(on)), None),
                None => (
                    Said::Switch(Claim::Unknown),
                    Some(format!(
                        "`{raw}` is none of the words for on and off [add it to words]"
                    )),
                ),
            },
            Kind::Text => match raw {
                Raw::Structure(_) => (Said::Text(Claim::Unknown), Some(no(raw, "text"))),
                raw => (Said::Text(Claim::Value(raw.to_string())), None),
            },
        }
    }
}

fn no(raw: &Raw, expected: &str) -> String {
    format!(
        "`{raw}` is no {expected} [if it says that the watcher does not know, add it to unknown]"
    )
}

impl Kind {
    /// Says that the watcher does not know.
    pub(super) fn unknown(&self) -> Said {
        match self {
            Self::Phase => Said::Phase(Claim::Unknown),
            Self::Number(_) => Said::Number(Claim::Unknown),
            Self::Switch(_) => Said::Switch(Claim::Unknown),
            Self::Text => Said::Text(Claim::Unknown),
        }
    }

    /// Says nothing.
    pub(super) fn nothing(&self) -> Said {
        match self {
            Self::Phase => Said::Phase(Claim::NotReported),
            Self::Number(_) => Said::Number(Claim::NotReported),
            Self::Switch(_) => Said::Switch(Claim::NotReported),
            Self::Text => Said::Text(Claim::NotReported),
        }
    }
}

/// Gives the names of a pattern's groups.
pub(crate) fn groups_of(pattern: &Regex) -> impl Iterator<Item = &str> {
    pattern.capture_names().flatten()
}
