//! A watcher file: how a watcher is started, and how its sightings are understood.
//!
//! `raw.rs` has the keys as they are written, with the comments an editor shows; `check.rs` makes a
//! [`WatcherFile`] of them; `schema.rs` describes them for editors.

mod check;
mod error;
mod field;
mod form;
mod raw;
mod schema;
mod spanned;

#[cfg(test)]
mod tests;

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use indexmap::IndexMap;

pub use error::WatcherFileError;

use super::CommandKind;
use super::form::Form;
use super::source::Source;

/// Is a watcher file, checked when it was read.
///
/// ```
/// use coldbed::watcher::WatcherFile;
///
/// let text = r#"
/// command = ["python3", "watch.py", "{url}", "{key}"]
/// [sightings]
/// lines = "json"
/// [sightings.fields]
/// phase = "/state"
/// [sightings.words]
/// printing = ["PRINT"]
/// heating = ["WARM", "PRINT"]
/// "#;
/// let error = WatcherFile::parse("display.toml", text).unwrap_err();
/// assert_eq!(
///     error.to_string(),
///     "display.toml:8:13: sightings.words.printing: `PRINT` is a word for heating too"
/// );
/// ```
#[derive(Debug, Clone)]
pub struct WatcherFile {
    name: String,
    command: Option<Command>,
    source: Source,
    form: Arc<Form>,
    commands: Vec<(CommandKind, Way)>,
}

/// Is how a watcher is told to ask something of the printer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Way {
    /// This line is written to its input.
    Line(String),
    /// This is run beside it.
    Run(Vec<String>),
}

/// Is how a watcher is started.
#[derive(Debug, Clone, Default)]
pub(super) struct Command {
    /// Program and arguments, with places.
    pub(super) words: Vec<String>,
    /// What is added to the environment; values have places.
    pub(super) environment: IndexMap<String, String>,
    /// Where it is started; where this program was if there is none.
    pub(super) directory: Option<PathBuf>,
}

impl WatcherFile {
    /// Reads a file from the disk.
    ///
    /// # Errors
    /// [`WatcherFileError`]: it cannot be read, or the first thing that is wrong in it.
    pub fn load(path: &Path) -> Result<Self, WatcherFileError> {
        let name = path.display().to_string();
        let text = std::fs::read_to_string(path)
            .map_err(|error| WatcherFileError::unreadable(&name, &error))?;
        Self::parse(&name, &text)
    }

    /// Reads text. `file` is where it comes from: errors are told with it, and the watcher is started
    /// in its folder.
    ///
    /// # Errors
    /// The first thing that is wrong, with line, column, field, value and what is allowed.
    pub fn parse(file: &str, text: &str) -> Result<Self, WatcherFileError> {
        check::file(file, text)
    }

    /// Gives the name under which it was read.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Gives the address at which sightings are taken from other machines too, if there is one.
    pub fn reachable_at(&self) -> Option<SocketAddr> {
        match &self.source {
            Source::Callback(at) if !at.listen.ip().is_loopback() => Some(at.listen),
            _ => None,
        }
    }

    /// Gives a watcher that has only a command and prints the standard form.
    pub(super) fn of_command(words: Vec<String>) -> Self {
        Self {
            name: shown(&words),
            command: Some(Command {
                words,
                ..Command::default()
            }),
            source: Source::Stdout,
            form: Arc::default(),
            commands: Vec::new(),
        }
    }

    pub(super) fn command(&self) -> Option<&Command> {
        self.command.as_ref()
    }

    pub(super) fn source(&self) -> &Source {
        &self.source
    }

    pub(super) fn commands(&self) -> &[(CommandKind, Way)] {
        &self.commands
    }

    /// Tells whether it is told anything by its input.
    pub(super) fn has_lines(&self) -> bool {
        let mut ways = self.commands.iter();
        ways.any(|(_, way)| matches!(way, Way::Line(_)))
    }

    pub(crate) fn form(&self) -> &Arc<Form> {
        &self.form
    }
}

/// Writes a command as somebody would type it.
fn shown(words: &[String]) -> String {
    let shown = words.iter().map(|word| {
        let plain = |c: char| !c.is_whitespace() && !"'\"\\$`|&;()<>*?#".contains(c);
        if !word.is_empty() && word.chars().all(plain) {
            word.clone()
        } else {
            // POSIX shell, section 2.2.2: nothing is special inside.
            format!("'{}'", word.replace('\'', r"'\''"))
        }
    });
    shown.collect::<Vec<_>>().join(" ")
}
