//! `coldbed check --session`: a watcher judged on what a host said once.

use std::path::Path;
use std::sync::Arc;

use coldbed_session::replay::Matching;

use crate::check::{Check, recorded};
use crate::cli::{CheckArgs, OnSessionArgs, ReplayMatch};
use crate::commands::check_report::Reporting;
use crate::commands::{Failure, session_file};
use crate::exit_code::Outcome;
use crate::recorded::Expectations;
use crate::report::ReportHead;
use crate::run::{self, OnSession, Onlooker as _, Setting};

/// Gives the checks on a session that are wanted.
pub(in crate::commands) fn checks(only: &[String]) -> Result<Vec<Check>, Failure> {
    let all = recorded();
    if let Some(unknown) = only
        .iter()
        .find(|id| all.iter().all(|check| check.id != **id))
    {
        let ids: Vec<&str> = all.iter().map(|check| check.id).collect();
        return Err(Failure::bad_input(format!(
            "no check on a session is called `{unknown}` [one of {}]",
            ids.join(", ")
        )));
    }
    let is_wanted = |check: &&Check| only.is_empty() || only.iter().any(|id| id == check.id);
    Ok(all.iter().filter(is_wanted).copied().collect())
}

/// Reads the session and what is expected of it.
pub(super) fn on_session(args: &OnSessionArgs) -> Result<Option<OnSession>, Failure> {
    let Some(file) = &args.session else {
        return Ok(None);
    };
    let session = session_file::read(file)?;
    if session.exchanges.is_empty() {
        return Err(Failure::bad_input(format!(
            "`{}` has no exchange, so there is nothing to judge by",
            file.display()
        )));
    }
    Ok(Some(OnSession {
        session: Arc::new(session),
        expectations: expectations(args.expect.as_deref())?,
        matching: match args.matching {
            ReplayMatch::Time => Matching::ByTime,
            ReplayMatch::InOrder => Matching::InOrder,
        },
        rate: args.rate,
    }))
}

/// Reads what is expected of a session.
pub(in crate::commands) fn expectations(file: Option<&Path>) -> Result<Expectations, Failure> {
    let Some(file) = file else {
        return Ok(Expectations::default());
    };
    let wrong = |error: &dyn std::fmt::Display| {
        Failure::bad_input(format!("--expect: `{}`: {error}", file.display()))
    };
    let text = std::fs::read_to_string(file).map_err(|error| wrong(&error))?;
    Expectations::parse(&text).map_err(|error| wrong(&error))
}

/// Judges.
pub(super) async fn check(
    args: &CheckArgs,
    setting: &Setting,
    on: &OnSession,
    reporting: Reporting<'_>,
) -> Result<Outcome, Failure> {
    let checks = checks(&args.only)?;
    // Before it begins, since it may take hours.
    eprintln!("{}", told(on, setting));
    let judged = run::run_on_session(setting, on, &checks, usize::from(args.repeats)).await;
    let (calibration, results) = judged.map_err(|error| Failure::new(error.outcome(), error))?;
    let head = ReportHead::of(setting, None, &calibration);
    let mut telling = reporting.telling(head, &checks, 0);
    for result in &results {
        telling.one_more();
        telling.result(result);
    }
    telling.finish(&results, None)
}

/// Says what is played, and about how long that takes.
fn told(on: &OnSession, setting: &Setting) -> String {
    let count = on.session.exchanges.len();
    let (how, seconds) = match on.matching {
        Matching::ByTime => ("by time", on.session.length().as_secs_f64() / on.rate),
        Matching::InOrder => {
            let polls = u32::try_from(count).unwrap_or(u32::MAX);
            ("in order", (setting.interval * polls).as_secs_f64())
        }
    };
    let about = match seconds {
        seconds if seconds < 120.0 => format!("{seconds:.0} s"),
        seconds => format!("{:.0} min", seconds / 60.0),
    };
    format!("coldbed: {count} exchanges are played {how}, which takes about {about}")
}
