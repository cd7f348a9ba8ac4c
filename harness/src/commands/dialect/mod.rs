//! `coldbed dialect`.

mod describe;
mod lint;

use coldbed_mock::dialect::DialectFile;

use super::{Failure, say};
use crate::cli::{DialectArgs, DialectCommand, ShowArgs};
use crate::exit_code::Outcome;

pub(super) fn dialect(args: &DialectArgs) -> Result<Outcome, Failure> {
    match &args.command {
        DialectCommand::Lint(args) => lint::lint(args),
        DialectCommand::Describe(args) => describe::describe(args),
        DialectCommand::Show(args) => show(args),
        DialectCommand::Schema => print(&format!("{:#}\n", DialectFile::schema())),
    }
}

fn show(args: &ShowArgs) -> Result<Outcome, Failure> {
    match DialectFile::builtin_text(&args.name) {
        Some(text) => print(text),
        // The error that lists the names, and the one that may be meant.
        None => match DialectFile::builtin(&args.name) {
            Err(error) => Err(Failure::bad_input(error)),
            Ok(_) => Ok(Outcome::Done),
        },
    }
}

/// Writes a whole text to standard output.
fn print(text: &str) -> Result<Outcome, Failure> {
    say::write(text).map_err(|error| Failure::new(Outcome::OwnFault, error))?;
    Ok(Outcome::Done)
}
