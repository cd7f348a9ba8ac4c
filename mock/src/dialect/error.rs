//! What can be wrong with a dialect file.

use std::fmt;

/// Says where a dialect file is wrong, and how.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}: {field}: {problem}", Place { file, line: *line })]
pub struct DialectError {
    /// The file, or the built-in name.
    pub file: String,
    /// The line, counted from 1, where one can be named.
    pub line: Option<usize>,
    /// The field, such as `routes[2].body at /job/job-state`.
    pub field: String,
    /// What is wrong there.
    pub problem: Box<DialectProblem>,
}

/// Says what is wrong at one place of a dialect file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DialectProblem {
    /// The text is not TOML, or a table has another shape than asked for.
    #[error("{message}{}", Hint(hint.as_deref()))]
    Toml {
        /// What the TOML reader says.
        message: String,
        /// A known name close to an unknown one.
        hint: Option<String>,
    },
    /// A value is none of those allowed.
    #[error("`{}` is not {allowed}{}", OneLine(value), Hint(hint.as_deref()))]
    NotAllowed {
        /// The value as written.
        value: String,
        /// What is allowed, as it follows "is not".
        allowed: String,
        /// An allowed value close to the one written.
        hint: Option<String>,
    },
    /// Something a table needs is not there.
    #[error("{what} is missing")]
    Missing {
        /// What is missing.
        what: &'static str,
    },
    /// None or several of some things are there.
    #[error("exactly one of {choices} is needed")]
    OneOf {
        /// The things.
        choices: &'static str,
    },
    /// Two things that exclude each other are both there.
    #[error("{one} and {other} exclude each other")]
    Both {
        /// One of them.
        one: &'static str,
        /// The other.
        other: &'static str,
    },
    /// A key belongs to another form of push.
    #[error("is no key of form `{form}`, which has `form`, `period-ms`, `{keys}`")]
    NotOfForm {
        /// The form that was asked for.
        form: &'static str,
        /// The keys it has.
        keys: String,
    },
    /// A body is not JSON.
    #[error("not JSON: {message}")]
    Json {
        /// What the JSON reader says.
        message: String,
    },
    /// An object names a member twice (RFC 7493 section 2.3 forbids it).
    #[error("member `{name}` is there twice")]
    DuplicateMember {
        /// The member's name.
        name: String,
    },
    /// A `{{ … }}` or `{% … %}` cannot be understood.
    #[error("`{}`: {message}", OneLine(text))]
    Template {
        /// The text as written.
        text: String,
        /// What is wrong with it.
        message: String,
    },
    /// Parts include each other in a circle.
    #[error("parts include each other: {}", cycle.join(" -> "))]
    IncludeCycle {
        /// The names along the circle, the first one again at the end.
        cycle: Vec<String>,
    },
    /// A body cannot be rendered for a truth that will occur.
    #[error("cannot be rendered with {sample}: {message}{}", Hint(hint.as_deref()))]
    Render {
        /// The truth it was tried with.
        sample: String,
        /// What went wrong.
        message: String,
        /// A known name close to an unknown one.
        hint: Option<String>,
    },
    /// A file that a route serves cannot be read.
    #[error("`{path}` cannot be read: {message}")]
    File {
        /// The file.
        path: String,
        /// What the system says.
        message: String,
    },
    /// Two routes answer the same requests.
    #[error("{message}")]
    Conflict {
        /// Which other route.
        message: String,
    },
}

struct Place<'a> {
    file: &'a str,
    line: Option<usize>,
}

impl fmt::Display for Place<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "{}:{line}", self.file),
            None => f.write_str(self.file),
        }
    }
}

/// Writes text with its line ends and other controls escaped.
struct OneLine<'a>(&'a str);

impl fmt::Display for OneLine<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.chars().try_for_each(|letter| {
            if letter.is_control() {
                write!(f, "{}", letter.escape_default())
            } else {
                write!(f, "{letter}")
            }
        })
    }
}

struct Hint<'a>(Option<&'a str>);

impl fmt::Display for Hint<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            Some(name) => write!(f, " (did you mean `{name}`?)"),
            None => Ok(()),
        }
    }
}
