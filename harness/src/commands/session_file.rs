//! Session files, and what is replaced in them.

use std::path::Path;

use coldbed_session::redact::Rules;
use coldbed_session::{Session, SessionFile};

use super::Failure;
use super::whole_file::WholeFile;
use crate::cli::RedactArgs;

/// Reads a session; what was lost of it is told.
pub(super) fn read(file: &Path) -> Result<Session, Failure> {
    let text = std::fs::read_to_string(file)
        .map_err(|error| Failure::bad_input(format!("`{}`: {error}", file.display())))?;
    let read = SessionFile::read(&text).map_err(|error| {
        let mut message = format!("`{}`: {error}", file.display());
        if let Some(source) = std::error::Error::source(&error) {
            message.push_str(&format!(": {source}"));
        }
        Failure::bad_input(message)
    })?;
    if read.torn_bytes > 0 {
        eprintln!(
            "coldbed: `{}`: its last line is torn and left out ({} bytes), as a recorder that was killed \
             leaves one",
            file.display(),
            read.torn_bytes
        );
    }
    Ok(read.session)
}

/// Writes a session, whole or not at all.
pub(super) fn write(session: &Session, file: &Path) -> Result<(), Failure> {
    write_text(&session.text(), file)
}

/// Writes a text, whole or not at all.
pub(super) fn write_text(text: &str, file: &Path) -> Result<(), Failure> {
    let written = || {
        let mut whole = WholeFile::beside(file)?;
        whole.put(text.as_bytes())?;
        whole.finish()
    };
    written().map_err(|error| {
        Failure::bad_input(format!("--to: cannot write `{}`: {error}", file.display()))
    })
}

/// Gives what is replaced.
pub(super) fn rules(args: &RedactArgs) -> Result<Rules, Failure> {
    let wrong = |flag: &'static str| move |error| Failure::bad_input(format!("{flag}: {error}"));
    let mut rules = Rules::default();
    for name in &args.replace_field {
        rules.add_field(name).map_err(wrong("--replace-field"))?;
    }
    for name in &args.replace_query {
        rules.add_query(name).map_err(wrong("--replace-query"))?;
    }
    for name in &args.replace_member {
        rules.add_member(name).map_err(wrong("--replace-member"))?;
    }
    if let Some(file) = &args.replace_values {
        let text = std::fs::read_to_string(file).map_err(|error| {
            Failure::bad_input(format!("--replace-values: `{}`: {error}", file.display()))
        })?;
        for value in text.lines().filter(|line| !line.is_empty()) {
            rules.add_value(value).map_err(wrong("--replace-values"))?;
        }
    }
    Ok(rules)
}
