//! `coldbed session import` and `export`: HTTP Archives.

use coldbed_session::har::{self, ImportError};

use crate::cli::{SessionExportArgs, SessionImportArgs};
use crate::commands::{Failure, session_file};
use crate::exit_code::Outcome;

pub(super) fn import(args: &SessionImportArgs) -> Result<Outcome, Failure> {
    let refused = |why: String| Failure::bad_input(format!("`{}`: {why}", args.file.display()));
    let text = std::fs::read_to_string(&args.file).map_err(|error| refused(error.to_string()))?;
    let imported =
        har::import(&text, args.host.as_deref()).map_err(|error| refused(chain(&error)))?;
    session_file::write(&imported.session, &args.to)?;
    for (origin, count) in &imported.left_out {
        eprintln!("coldbed: {count} exchanges with {origin} were left out [--host takes another]");
    }
    eprintln!(
        "coldbed: {} exchanges in `{}`",
        imported.session.exchanges.len(),
        args.to.display()
    );
    Ok(Outcome::Done)
}

pub(super) fn export(args: &SessionExportArgs) -> Result<Outcome, Failure> {
    let session = session_file::read(&args.file)?;
    session_file::write_text(&har::export(&session).text(), &args.to)?;
    eprintln!(
        "coldbed: {} exchanges in `{}`",
        session.exchanges.len(),
        args.to.display()
    );
    Ok(Outcome::Done)
}

/// Gives an error with its causes.
fn chain(error: &ImportError) -> String {
    let mut text = error.to_string();
    let mut cause = std::error::Error::source(error);
    while let Some(error) = cause {
        text.push_str(&format!(": {error}"));
        cause = error.source();
    }
    text
}
