//! What can be wrong with a board or a cell.

use super::figure::Key;

/// Says why there is no such board or cell.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PowerError {
    /// There is no built-in board or cell of that name.
    #[error("{}there is no {what} `{name}` [{hint}]", place(at.as_deref()))]
    UnknownName {
        /// The file and line that name it, if a file does.
        at: Option<String>,
        /// `board` or `cell`.
        what: &'static str,
        /// The name asked for.
        name: String,
        /// The nearest name, or all of them.
        hint: String,
    },
    /// The file is no TOML.
    #[error("{at}: {message}")]
    Syntax {
        /// File and line.
        at: String,
        /// What the reader says of it.
        message: String,
    },
    /// The file has no such section.
    #[error("{file}: there is no [{section}]")]
    NoSection {
        /// The file.
        file: String,
        /// The section looked for.
        section: &'static str,
    },
    /// The file has a section or a key that nobody reads.
    #[error("{at}: unknown key `{key}` [{hint}]")]
    UnknownKey {
        /// File and line.
        at: String,
        /// The key, with its section.
        key: String,
        /// The nearest key, or all of them.
        hint: String,
    },
    /// A value is of another kind.
    #[error("{at}: {key} is of type {found}, not {wanted}")]
    WrongKind {
        /// File and line.
        at: String,
        /// The key, with its section.
        key: String,
        /// Its type, in TOML's words.
        found: &'static str,
        /// What it should be.
        wanted: &'static str,
    },
    /// A number is outside its limits.
    #[error("{at}: {section}.{}: {value} is outside {} to {} {}", key.name, key.min, key.max, key.unit)]
    OutOfBounds {
        /// File and line.
        at: String,
        /// `board` or `cell`.
        section: &'static str,
        /// The key and its limits.
        key: &'static Key,
        /// The number.
        value: f64,
    },
    /// A key is missing where nothing is built upon.
    #[error(
        "{file}: [{section}] does not say {key} [or name what it is like: like = \"{example}\"]"
    )]
    Missing {
        /// The file.
        file: String,
        /// `board` or `cell`.
        section: &'static str,
        /// The key.
        key: &'static str,
        /// A name that `like` takes.
        example: &'static str,
    },
    /// Less is drawn where more is done.
    #[error(
        "{file}: board.{lower}-milliamps ({lower_milliamps}) is above board.{upper}-milliamps \
         ({upper_milliamps}) [currents fall: active, receive, joined, deep-sleep]"
    )]
    OutOfOrder {
        /// The file.
        file: String,
        /// What should draw less.
        lower: &'static str,
        /// What it draws, mA.
        lower_milliamps: f64,
        /// What should draw more.
        upper: &'static str,
        /// What that draws, mA.
        upper_milliamps: f64,
    },
}

impl PowerError {
    /// Says that there is no such name, and which one was meant.
    pub(super) fn unknown_name(what: &'static str, name: &str, known: &[&str]) -> Self {
        Self::UnknownName {
            at: None,
            what,
            name: name.to_owned(),
            hint: hint(name, known),
        }
    }

    /// Adds the line that names it.
    pub(super) fn at(self, place: String) -> Self {
        match self {
            Self::UnknownName {
                what, name, hint, ..
            } => Self::UnknownName {
                at: Some(place),
                what,
                name,
                hint,
            },
            other => other,
        }
    }
}

fn place(at: Option<&str>) -> String {
    at.map(|at| format!("{at}: ")).unwrap_or_default()
}

/// How like the nearest word must be to have been meant (own choice, as for scenarios).
const LIKE_ENOUGH: f64 = 0.8;

/// Gives the word that was meant, or all there are.
pub(super) fn hint(word: &str, known: &[&str]) -> String {
    let nearest = known
        .iter()
        .map(|known| (strsim::jaro_winkler(word, known), known))
        .filter(|(likeness, _)| *likeness > LIKE_ENOUGH)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match nearest {
        Some((_, meant)) => format!("did you mean `{meant}`?"),
        None => format!("there are: {}", known.join(", ")),
    }
}
