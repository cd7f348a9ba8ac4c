//! One file for each thing the command can be asked to do.

mod authority_file;
mod check;
mod check_report;
mod control;
mod dialect;
mod explore;
mod learn;
mod list;
mod open_files;
mod own_tls;
mod plot;
mod power;
mod record;
mod replay;
mod say;
mod serve;
mod session;
mod session_file;
mod shrink;
mod watch;
mod whole_file;

use std::borrow::Cow;
use std::error::Error;
use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::scenario::{Files, Scenario};

use crate::cli::{Cli, Command};
use crate::exit_code::Outcome;

/// Does what the command line asks and gives the exit code.
pub fn dispatch(cli: Cli) -> ExitCode {
    let runtime = match tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
    {
        Ok(runtime) => runtime,
        Err(error) => return fail(Outcome::OwnFault, &error),
    };
    let outcome = runtime.block_on(async {
        match cli.command {
            Command::Serve(args) => serve::serve(*args).await,
            Command::Check(args) => check::check(*args).await,
            Command::Learn(args) => learn::learn(&args),
            Command::List => list::list(),
            Command::Dialect(args) => dialect::dialect(&args),
            Command::Plot(args) => plot::plot(&args),
            Command::Record(args) => record::record(*args).await,
            Command::Replay(args) => replay::replay(args).await,
            Command::Session(args) => session::session(&args),
            Command::Shrink(args) => shrink::shrink(*args).await,
            Command::Watch(args) => watch::watch(args).await,
        }
    });
    match outcome {
        Ok(outcome) => outcome.into(),
        Err(failure) => fail(failure.outcome, failure.error.as_ref()),
    }
}

/// Is a failure of a command, with the exit code it ends in.
pub(crate) struct Failure {
    outcome: Outcome,
    error: Box<dyn Error>,
}

impl Failure {
    fn new(outcome: Outcome, error: impl Into<Box<dyn Error>>) -> Self {
        Self {
            outcome,
            error: error.into(),
        }
    }

    fn bad_input(error: impl Into<Box<dyn Error>>) -> Self {
        Self::new(Outcome::BadInput, error)
    }
}

fn fail(outcome: Outcome, error: &dyn Error) -> ExitCode {
    let mut message = format!("coldbed: {error}");
    let mut cause = error.source();
    while let Some(error) = cause {
        // Writing to a string cannot fail.
        let _ = write!(message, ": {error}");
        cause = error.source();
    }
    eprintln!("{message}");
    outcome.into()
}

/// Gives the dialect of that name or in that file, `@` and a version after it to begin with another
/// one than the file's first.
fn dialect(wanted: &str) -> Result<Arc<DialectFile>, Failure> {
    let (name_or_file, text, version) = dialect_text(wanted)?;
    let dialect = DialectFile::load(name_or_file, &text, &OnDisk).map_err(Failure::bad_input)?;
    let dialect = match version {
        Some(version) => dialect.starting_with(version).map_err(Failure::bad_input)?,
        None => dialect,
    };
    Ok(Arc::new(dialect))
}

/// Gives the name and the text of a dialect, and the version after the `@`.
fn dialect_text(wanted: &str) -> Result<(&str, Cow<'static, str>, Option<&str>), Failure> {
    // A file may have an `@` in its name.
    let (name_or_file, version) = match wanted.rsplit_once('@') {
        Some((name, version)) if !Path::new(wanted).exists() => (name, Some(version)),
        _ => (wanted, None),
    };
    let text = match DialectFile::builtin_text(name_or_file) {
        Some(text) => Cow::Borrowed(text),
        None => Cow::Owned(read("dialect", name_or_file)?),
    };
    Ok((name_or_file, text, version))
}

/// Reads a file that was named where a built-in name may stand too.
fn read(what: &str, name_or_file: &str) -> Result<String, Failure> {
    std::fs::read_to_string(Path::new(name_or_file)).map_err(|error| {
        let message = format!(
            "`{name_or_file}` is neither a built-in {what} nor a file that can be read: {error}"
        );
        Failure::bad_input(message)
    })
}

/// Opens what a scenario file names: what it includes, its part programs.
struct OnDisk;

impl Files for OnDisk {
    fn open(&self, path: &str) -> std::io::Result<Box<dyn BufRead>> {
        Ok(Box::new(BufReader::new(File::open(path)?)))
    }
}

/// Gives the scenario of that name or in that file.
fn scenario(name_or_file: &str) -> Result<Arc<Scenario>, Failure> {
    let scenario = match Scenario::builtin(name_or_file) {
        Some(scenario) => scenario,
        None => Scenario::load(name_or_file, &read("scenario", name_or_file)?, &OnDisk),
    };
    scenario.map(Arc::new).map_err(Failure::bad_input)
}
