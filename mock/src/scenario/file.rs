//! The files a scenario is made of: its own text and what that includes.

use std::io::{self, BufRead, Read as _};
use std::path::Path;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::builtin;
use super::error::{ScenarioError, Sources, near_miss};
use super::merge::lay_over;

/// Opens the files that a scenario names: what it includes and its part programs.
pub trait Files {
    /// Opens a file. The path is relative to where the scenario's own file name is: beside it.
    ///
    /// # Errors
    /// Whatever keeps the file from being opened; it is shown to the author with the file's name.
    fn open(&self, path: &str) -> io::Result<Box<dyn BufRead>>;
}

/// Opens nothing.
pub(crate) struct NoFiles;

impl Files for NoFiles {
    fn open(&self, _: &str) -> io::Result<Box<dyn BufRead>> {
        Err(io::Error::new(
            io::ErrorKind::Unsupported,
            "no files can be read here",
        ))
    }
}

/// A chain longer than this is a mistake (own choice).
const MOST_FILES: usize = 8;
/// A scenario is a page or two; beyond this it is some other file (own choice).
const MOST_BYTES: u64 = 1 << 20;

/// Follows `include` from the given text down to a file that includes nothing.
///
/// # Errors
/// A file that cannot be read or is no TOML, a circle, a chain that is too long.
pub(super) fn follow_includes(
    file: &str,
    text: &str,
    files: &dyn Files,
) -> Result<Sources, ScenarioError> {
    let mut sources = Sources::new(file, text);
    while let Some(include) = included_by_last(&sources)? {
        let name = include.get_ref();
        let refuse =
            |problem: String| Err(sources.error_at(Some(include.span().start), "include", problem));
        let (name, text) = match builtin::text(name) {
            Some(text) => (name.clone(), text.to_owned()),
            None => {
                let path = beside(sources.last_name(), name);
                match read_text(files, &path) {
                    Ok(text) => (path, text),
                    Err(error) => {
                        return refuse(format!(
                            "`{path}` cannot be read: {error}{}",
                            builtin_hint(name)
                        ));
                    }
                }
            }
        };
        if sources.names().any(|earlier| earlier == name) {
            let circle: Vec<&str> = sources.names().chain([name.as_str()]).collect();
            return refuse(format!("goes round in a circle [{}]", circle.join(" -> ")));
        }
        if sources.names().count() == MOST_FILES {
            return refuse(format!("more than {MOST_FILES} files deep"));
        }
        sources.add(&name, &text);
    }
    Ok(sources)
}

/// Merges all files into one document; values keep the place they come from.
///
/// # Errors
/// None that [`follow_includes`] has not found already.
pub(super) fn merged(sources: &Sources) -> Result<Spanned<DeTable<'_>>, ScenarioError> {
    let mut whole: Option<Spanned<DeTable<'_>>> = None;
    for text in sources.texts().rev() {
        let over = parse(sources, text)?;
        whole = Some(match whole {
            None => over,
            Some(mut base) => {
                let place = over.span();
                lay_over(base.get_mut(), over.into_inner());
                Spanned::new(place, base.into_inner())
            }
        });
    }
    Ok(whole.unwrap_or_else(|| Spanned::new(0..0, DeTable::new())))
}

fn parse<'i>(sources: &Sources, text: &'i str) -> Result<Spanned<DeTable<'i>>, ScenarioError> {
    DeTable::parse(text).map_err(|error| sources.error_from_toml("", &error))
}

fn included_by_last(sources: &Sources) -> Result<Option<Spanned<String>>, ScenarioError> {
    let document = parse(sources, sources.last_text())?;
    let Some(value) = document.get_ref().get("include") else {
        return Ok(None);
    };
    match value.get_ref() {
        DeValue::String(name) => Ok(Some(Spanned::new(value.span(), name.to_string()))),
        _ => Err(sources.error_at(
            Some(value.span().start),
            "include",
            "must be the name of a built-in or of a file, in quotes",
        )),
    }
}

/// Names a file as seen from where the file that mentions it is seen from.
pub(super) fn beside(mentioned_in: &str, name: &str) -> String {
    match Path::new(mentioned_in).parent() {
        Some(folder) => folder.join(name).to_string_lossy().into_owned(),
        None => name.to_owned(),
    }
}

fn read_text(files: &dyn Files, path: &str) -> io::Result<String> {
    let mut text = String::new();
    let length = files
        .open(path)?
        .take(MOST_BYTES + 1)
        .read_to_string(&mut text)?;
    if length as u64 > MOST_BYTES {
        return Err(io::Error::new(
            io::ErrorKind::FileTooLarge,
            "it is longer than 1 MiB",
        ));
    }
    Ok(text)
}

fn builtin_hint(name: &str) -> String {
    let names: Vec<&str> = builtin::names().collect();
    match near_miss(name, &names) {
        Some(meant) => format!(" [did you mean `{meant}`?]"),
        None => String::new(),
    }
}
