//! `coldbed session`.

mod archive;
mod diff;
mod show;

use std::io::Write as _;
use std::time::Duration;

use coldbed_session::redact::scrub;

use super::{Failure, session_file};
use crate::cli::{SessionArgs, SessionCommand, SessionCutArgs, SessionScrubArgs, SessionShowArgs};
use crate::exit_code::Outcome;

pub(super) fn session(args: &SessionArgs) -> Result<Outcome, Failure> {
    match &args.command {
        SessionCommand::Show(args) => show(args),
        SessionCommand::Cut(args) => cut(args),
        SessionCommand::Diff(args) => diff::differences(args),
        SessionCommand::Scrub(args) => scrubbed(args),
        SessionCommand::Import(args) => archive::import(args),
        SessionCommand::Export(args) => archive::export(args),
    }
}

fn show(args: &SessionShowArgs) -> Result<Outcome, Failure> {
    let session = session_file::read(&args.file)?;
    let text = match args.exchange {
        Some(number) => {
            let exchange = session.exchange(number).ok_or_else(|| {
                let count = session.exchanges.len();
                let numbers = match (session.exchanges.first(), session.exchanges.last()) {
                    (Some(first), Some(last)) => format!("{} to {}", first.number, last.number),
                    _ => "none".to_owned(),
                };
                Failure::bad_input(format!(
                    "--exchange: there is no exchange {number} among the {count} [{numbers}]"
                ))
            })?;
            show::exchange(exchange)
        }
        None if args.timeline => show::timeline(&session, width()),
        None => show::table(&session, width()),
    };
    // A reader that has seen enough closes the pipe.
    let _ = std::io::stdout().write_all(text.as_bytes());
    Ok(Outcome::Done)
}

fn width() -> usize {
    terminal_size::terminal_size().map_or(100, |(width, _)| usize::from(width.0).clamp(60, 200))
}

fn cut(args: &SessionCutArgs) -> Result<Outcome, Failure> {
    let until = args.until.unwrap_or(Duration::MAX);
    if until <= args.from {
        return Err(Failure::bad_input(
            "--until is not after --from, so nothing would be left",
        ));
    }
    let part = session_file::read(&args.file)?.cut(args.from, until);
    if part.exchanges.is_empty() {
        return Err(Failure::bad_input(
            "no request is in that part, so nothing would be left",
        ));
    }
    session_file::write(&part, &args.to)?;
    eprintln!(
        "coldbed: {} exchanges in `{}`",
        part.exchanges.len(),
        args.to.display()
    );
    Ok(Outcome::Done)
}

fn scrubbed(args: &SessionScrubArgs) -> Result<Outcome, Failure> {
    let rules = session_file::rules(&args.redact)?;
    let scrubbed = scrub(&session_file::read(&args.file)?, &rules);
    session_file::write(&scrubbed, &args.to)?;
    eprintln!(
        "coldbed: scrubbed into `{}` [look through it before you share it: what is no text was not looked into]",
        args.to.display()
    );
    Ok(Outcome::Done)
}
