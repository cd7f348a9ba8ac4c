//! Which checks are run: by id, and by part for several machines.

use std::str::FromStr;

use super::{Check, catalogue};

/// Is a choice of checks.
#[derive(Debug, Clone, Default)]
pub struct Selection {
    /// Ids to keep; empty keeps all.
    pub only: Vec<String>,
    /// The part of them this machine runs.
    pub part: Option<Part>,
}

/// Is one part of so many, `K/N`, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    number: usize,
    of: usize,
}

/// Says what is wrong with a choice.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SelectError {
    /// No check has that id.
    #[error("no check is called `{id}`{hint}")]
    Unknown {
        /// The id that was given.
        id: String,
        /// What may have been meant, in brackets, or nothing.
        hint: String,
    },
    /// The choice is empty.
    #[error("nothing is selected [see `coldbed check --list`]")]
    Nothing,
}

impl std::fmt::Display for Part {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

impl FromStr for Part {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let read = |text: &str| text.parse::<usize>().ok();
        let (number, of) = text.split_once('/').unwrap_or((text, ""));
        match (read(number), read(of)) {
            (Some(number), Some(of)) if (1..=of).contains(&number) => Ok(Self { number, of }),
            _ => Err("a part is written K/N with 1 <= K <= N, such as 2/3".to_owned()),
        }
    }
}

impl Selection {
    /// Gives the checks chosen, in the catalogue's order.
    ///
    /// # Errors
    /// [`SelectError`] for an id that does not exist or a choice that is empty.
    pub fn checks(&self) -> Result<Vec<Check>, SelectError> {
        let all = catalogue();
        for id in &self.only {
            if !all.iter().any(|check| check.id == id) {
                return Err(SelectError::Unknown {
                    id: id.clone(),
                    hint: hint(id, &all),
                });
            }
        }
        let wanted =
            |check: &Check| self.only.is_empty() || self.only.iter().any(|id| id == check.id);
        // Dealt out like cards, so that the long checks, which stand together, are spread.
        let mine = |index: usize| {
            self.part
                .is_none_or(|part| index % part.of == part.number - 1)
        };
        let checks: Vec<Check> = all
            .into_iter()
            .filter(wanted)
            .enumerate()
            .filter(|(index, _)| mine(*index))
            .map(|(_, check)| check)
            .collect();
        if checks.is_empty() {
            return Err(SelectError::Nothing);
        }
        Ok(checks)
    }
}

fn hint(id: &str, all: &[Check]) -> String {
    let likeness = |check: &Check| strsim::jaro_winkler(id, check.id);
    let nearest = all
        .iter()
        .max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
    match nearest {
        Some(check) if likeness(check) > 0.8 => format!(" [did you mean `{}`?]", check.id),
        _ => " [see `coldbed check --list`]".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ids(selection: &Selection) -> Vec<&'static str> {
        selection
            .checks()
            .unwrap()
            .iter()
            .map(|check| check.id)
            .collect()
    }

    #[test]
    fn parts_cover_the_catalogue_without_overlap() {
        let mut seen = Vec::new();
        for part in ["1/3", "2/3", "3/3"] {
            let selection = Selection {
                part: Some(part.parse().unwrap()),
                ..Selection::default()
            };
            seen.extend(ids(&selection));
        }
        let mut all = ids(&Selection::default());
        seen.sort_unstable();
        all.sort_unstable();
        assert_eq!(seen, all);
    }

    #[test]
    fn parts_outside_their_number_are_refused() {
        for text in ["0/3", "4/3", "1", "a/b", "1/0", ""] {
            assert!(text.parse::<Part>().is_err(), "{text}");
        }
    }

    #[test]
    fn an_unknown_id_names_the_near_miss() {
        let selection = Selection {
            only: vec!["phase-pause".to_owned()],
            part: None,
        };
        let message = selection.checks().unwrap_err().to_string();
        assert_eq!(
            message,
            "no check is called `phase-pause` [did you mean `phase-paused`?]"
        );
    }
}
