//! `coldbed session import` and `export`: HTTP Archives, and packet captures, which are only read.

use std::error::Error;
use std::net::IpAddr;

use coldbed_session::{Session, capture, har};

use crate::cli::{SessionExportArgs, SessionImportArgs};
use crate::commands::{Failure, session_file};
use crate::exit_code::Outcome;

pub(super) fn import(args: &SessionImportArgs) -> Result<Outcome, Failure> {
    let bytes = std::fs::read(&args.file).map_err(|error| refused(args, &error))?;
    let (session, left_out) = match capture::is_capture(&bytes) {
        true => of_capture(args, &bytes)?,
        false => of_archive(args, bytes)?,
    };
    session_file::write(&session, &args.to)?;
    for left_out in left_out {
        eprintln!("coldbed: left out: {left_out}");
    }
    eprintln!(
        "coldbed: {} exchanges in `{}`",
        session.exchanges.len(),
        args.to.display()
    );
    Ok(Outcome::Done)
}

/// Gives the session, and what is not in it in words.
fn of_archive(args: &SessionImportArgs, bytes: Vec<u8>) -> Result<(Session, Vec<String>), Failure> {
    if args.port.is_some() {
        return Err(Failure::bad_input(
            "--port: only a packet capture is looked through by port [--host takes an archive's origin]",
        ));
    }
    let text = String::from_utf8(bytes).map_err(|error| refused(args, &error))?;
    let imported =
        har::import(&text, args.host.as_deref()).map_err(|error| refused(args, &error))?;
    let left_out = imported.left_out.iter();
    let left_out = left_out
        .map(|(origin, count)| format!("{count} exchanges with {origin} [--host takes another]"));
    Ok((imported.session, left_out.collect()))
}

/// Gives the session, and what is not in it in words.
fn of_capture(args: &SessionImportArgs, bytes: &[u8]) -> Result<(Session, Vec<String>), Failure> {
    let address = |host: &str| -> Result<IpAddr, Failure> {
        host.parse().map_err(|_| {
            Failure::bad_input(format!(
                "--host: `{host}` is no address, which is what a packet capture has [such as 192.0.2.1]"
            ))
        })
    };
    let options = capture::Options {
        host: args.host.as_deref().map(address).transpose()?,
        port: args.port,
        ..capture::Options::default()
    };
    let imported = capture::import(bytes, &options).map_err(|error| refused(args, &error))?;
    let left_out = imported.left_out.iter().map(ToString::to_string);
    Ok((imported.session, left_out.collect()))
}

/// Says why a file is refused, with the causes.
fn refused(args: &SessionImportArgs, error: &dyn Error) -> Failure {
    let mut text = format!("`{}`: {error}", args.file.display());
    let mut cause = error.source();
    while let Some(error) = cause {
        text.push_str(&format!(": {error}"));
        cause = error.source();
    }
    Failure::bad_input(text)
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
