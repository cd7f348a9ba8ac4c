//! The control API of `coldbed serve`.

use std::fs::{File, OpenOptions};
use std::io::BufReader;
use std::path::Path;

use coldbed_mock::control::LoggedRun;
use coldbed_mock::server::{ControlOptions, LogFile};

use super::Failure;
use crate::cli::ControlArgs;

/// Gives what the control API is started with; `None` when nothing was asked of it.
///
/// # Errors
/// It would be reachable from other machines without a key, the log to be replayed cannot be read,
/// or the one to be written cannot be made.
pub(super) fn options(args: ControlArgs) -> Result<Option<ControlOptions>, Failure> {
    let ControlArgs {
        control,
        control_key,
        control_log,
        replay_log,
    } = args;
    if control.is_none() && control_log.is_none() && replay_log.is_none() {
        return Ok(None);
    }
    if let Some(listen) = control.filter(|listen| !listen.ip().is_loopback()) {
        if control_key.is_none() {
            let message = format!(
                "--control={listen} is reachable from other machines and needs --control-key [or \
                 listen on 127.0.0.1]"
            );
            return Err(Failure::bad_input(message));
        }
        eprintln!(
            "coldbed: caution: {listen} is reachable from other machines; the control key crosses \
             the network unencrypted"
        );
    }
    let replay = replay_log.as_deref().map(read).transpose()?;
    Ok(Some(ControlOptions {
        listen: control,
        key: control_key,
        log: control_log.as_deref().map(make).transpose()?,
        replay,
    }))
}

fn read(file: &Path) -> Result<LoggedRun, Failure> {
    let cannot = |problem: String| Failure::bad_input(format!("`{}`: {problem}", file.display()));
    let opened = File::open(file).map_err(|error| cannot(error.to_string()))?;
    LoggedRun::read(BufReader::new(opened)).map_err(|error| {
        match std::error::Error::source(&error) {
            Some(source) => cannot(format!("{error}: {source}")),
            None => cannot(error.to_string()),
        }
    })
}

/// Makes a file for the log. One that is there is somebody's, perhaps the log of the run before.
fn make(file: &Path) -> Result<LogFile, Failure> {
    let made = OpenOptions::new().write(true).create_new(true).open(file);
    made.map(LogFile::new).map_err(|error| {
        let hint = match error.kind() {
            std::io::ErrorKind::AlreadyExists => " [name another file]",
            _ => "",
        };
        let message = format!("cannot write `{}`: {error}{hint}", file.display());
        Failure::bad_input(message)
    })
}
