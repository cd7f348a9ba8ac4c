//! File as written -> checked [`WatcherFile`].

use std::path::Path;
use std::sync::Arc;

use indexmap::IndexMap;

use super::error::{Text, WatcherFileError};
use super::raw::{self, File};
use super::spanned::Spanned;
use super::{Command, WatcherFile, Way, form};
use crate::watcher::CommandKind;
use crate::watcher::source::{CallbackAt, SerialLine, Source};

/// The place that only a callback fills.
const CALLBACK: &str = "{callback}";
/// What a serial line may be set to (own choice: wider than any common device).
const BAUD: std::ops::RangeInclusive<u32> = 300..=4_000_000;
/// Common practice of microcontroller boards.
const DEFAULT_BAUD: u32 = 115_200;

pub(super) fn file(file: &str, text: &str) -> Result<WatcherFile, WatcherFileError> {
    let text = Text { file, text };
    let reader = toml::Deserializer::parse(text.text).map_err(|error| text.toml("", &error))?;
    let raw: File = serde_path_to_error::deserialize(reader)
        .map_err(|error| text.toml(&error.path().to_string(), error.inner()))?;
    let command = command(&text, &raw)?;
    let source = source(&text, &raw)?;
    if !matches!(source, Source::Callback(_)) {
        no_callback_in(&text, &raw)?;
    }
    Ok(WatcherFile {
        name: file.to_owned(),
        command,
        source,
        form: Arc::new(form::form(&text, &raw.sightings)?),
        commands: commands(&text, &raw)?,
    })
}

fn commands(text: &Text<'_>, raw: &File) -> Result<Vec<(CommandKind, Way)>, WatcherFileError> {
    let written = CommandKind::ALL.into_iter().filter_map(|kind| {
        let way = match kind {
            CommandKind::Pause => &raw.commands.pause,
            CommandKind::Resume => &raw.commands.resume,
            CommandKind::Cancel => &raw.commands.cancel,
        };
        Some((kind, way.as_ref()?))
    });
    written
        .map(|(kind, way)| {
            let wrong = |problem: &str| {
                let field = format!("commands.{}", kind.word());
                Err(text.error(way.span().start, field, problem))
            };
            match way.get_ref() {
                raw::Way::Line(_) if raw.command.is_none() => {
                    wrong("there is no command whose input could be written to [use `run`]")
                }
                raw::Way::Line(line) if line.contains(['\n', '\r', '\0']) => {
                    wrong("is more than one line")
                }
                raw::Way::Run(words) if words.first().is_none_or(String::is_empty) => {
                    wrong("names no program")
                }
                raw::Way::Run(words) if words.iter().any(|word| word.contains('\0')) => {
                    wrong("a word has a NUL in it")
                }
                raw::Way::Line(line) => Ok((kind, Way::Line(line.clone()))),
                raw::Way::Run(words) => Ok((kind, Way::Run(words.clone()))),
            }
        })
        .collect()
}

fn command(text: &Text<'_>, raw: &File) -> Result<Option<Command>, WatcherFileError> {
    let Some(command) = &raw.command else {
        let without = "says how a command is started, and there is no command";
        if let Some(environment) = &raw.environment {
            return Err(text.error(environment.span().start, "environment", without));
        }
        if let Some(directory) = &raw.directory {
            return Err(text.error(directory.span().start, "directory", without));
        }
        return Ok(None);
    };
    let words: Vec<String> = command.get_ref().iter().map(value).collect();
    if words.first().is_none_or(String::is_empty) {
        let problem = "names no program [leave it out for a device that polls by itself]";
        return Err(text.error(command.span().start, "command", problem));
    }
    if let Some(word) = command
        .get_ref()
        .iter()
        .find(|word| word.get_ref().contains('\0'))
    {
        return Err(text.error(word.span().start, "command", "a word has a NUL in it"));
    }
    Ok(Some(Command {
        words,
        environment: environment(text, raw)?,
        directory: directory(text, raw),
    }))
}

fn environment(text: &Text<'_>, raw: &File) -> Result<IndexMap<String, String>, WatcherFileError> {
    let mut environment = IndexMap::new();
    for (name, content) in raw.environment.iter().flat_map(|table| table.get_ref()) {
        // POSIX.1-2017, Base Definitions, section 8.1.
        if name.is_empty() || name.contains(['=', '\0']) || content.get_ref().contains('\0') {
            let field = format!("environment.{name}");
            let problem = "is no variable that a system can have";
            return Err(text.error(content.span().start, field, problem));
        }
        environment.insert(name.clone(), content.get_ref().clone());
    }
    Ok(environment)
}

/// Gives the folder to start in, as seen from where this program is.
fn directory(text: &Text<'_>, raw: &File) -> Option<std::path::PathBuf> {
    let folder = Path::new(text.file).parent().unwrap_or(Path::new(""));
    let directory = match &raw.directory {
        Some(directory) => folder.join(directory.get_ref()),
        None => folder.to_owned(),
    };
    (!directory.as_os_str().is_empty()).then_some(directory)
}

fn value<T: Clone>(spanned: &Spanned<T>) -> T {
    spanned.get_ref().clone()
}

fn source(text: &Text<'_>, raw: &File) -> Result<Source, WatcherFileError> {
    const FIELD: &str = "sightings.from";
    let byte = raw
        .sightings
        .from
        .as_ref()
        .map_or(0, |from| from.span().start);
    let of_command = |source| match &raw.command {
        Some(_) => Ok(source),
        None => {
            let problem = "there is no command, so nothing is written on stdout or stderr [name a \
                           command, or `serial` or `callback`]";
            Err(text.error(byte, FIELD, problem))
        }
    };
    match raw.sightings.from.as_ref().map(|from| from.get_ref()) {
        None | Some(raw::From::Stdout) => of_command(Source::Stdout),
        Some(raw::From::Stderr) => of_command(Source::Stderr),
        Some(raw::From::Serial(serial)) => {
            let wrong = |key: &str, problem: String| {
                Err(text.error(byte, format!("{FIELD}.serial.{key}"), problem))
            };
            if serial.device.is_empty() {
                return wrong("device", "names no device".to_owned());
            }
            let baud = serial.baud.unwrap_or(DEFAULT_BAUD);
            if !BAUD.contains(&baud) {
                let (low, high) = (BAUD.start(), BAUD.end());
                return wrong(
                    "baud",
                    format!("{baud} is not {low} to {high} bits per second"),
                );
            }
            Ok(Source::Serial(SerialLine {
                device: serial.device.clone(),
                baud,
            }))
        }
        Some(raw::From::Callback(callback)) => callback_at(callback, raw.command.is_some())
            .map(Source::Callback)
            .map_err(|(key, problem)| text.error(byte, format!("{FIELD}.callback.{key}"), problem)),
    }
}

/// Checks a callback. An error is a key and what is wrong with it.
fn callback_at(
    raw: &raw::Callback,
    has_command: bool,
) -> Result<CallbackAt, (&'static str, String)> {
    let at = CallbackAt {
        listen: raw.listen.unwrap_or(CallbackAt::LISTEN),
        path: raw
            .path
            .clone()
            .unwrap_or_else(|| CallbackAt::PATH.to_owned()),
        key: raw.key.clone(),
    };
    if !has_command && at.listen.port() == 0 {
        let problem = "a device that is not started by a command needs a fixed address \
                       [such as 127.0.0.1:8632]";
        return Err(("listen", problem.to_owned()));
    }
    // RFC 3986 section 3.3; a query would not be part of it.
    let path = at.path.parse::<http::uri::PathAndQuery>();
    let is_path = path.is_ok_and(|path| path.query().is_none());
    if !is_path || !at.path.starts_with('/') {
        let problem = format!("`{}` is no path [such as {}]", at.path, CallbackAt::PATH);
        return Err(("path", problem));
    }
    let is_token = |c: char| c.is_ascii_alphanumeric() || "-._~+/=".contains(c);
    match &at.key {
        Some(key) if key.is_empty() || !key.chars().all(is_token) => {
            let problem = "a key is letters, digits and -._~+/= (RFC 6750 section 2.1)";
            Err(("key", problem.to_owned()))
        }
        None if !at.listen.ip().is_loopback() => {
            let problem = format!(
                "is missing, and {} is reachable from other machines [give a key, or listen on \
                 127.0.0.1]",
                at.listen
            );
            Err(("key", problem))
        }
        _ => Ok(at),
    }
}

/// Refuses the place for a callback's address where there is no callback.
fn no_callback_in(text: &Text<'_>, raw: &File) -> Result<(), WatcherFileError> {
    let words = raw.command.iter().flat_map(|words| words.get_ref());
    let words = words.map(|word| ("command".to_owned(), word));
    let variables = raw.environment.iter().flat_map(|table| table.get_ref());
    let variables = variables.map(|(name, value)| (format!("environment.{name}"), value));
    for (field, word) in words.chain(variables) {
        if word.get_ref().contains(CALLBACK) {
            let problem = format!(
                "`{CALLBACK}` has no address [write from = {{ callback = {{}} }} under \
                 [sightings]]"
            );
            return Err(text.error(word.span().start, field, problem));
        }
    }
    Ok(())
}
