//! `coldbed check`.

mod attached;
pub(super) mod on_session;
mod tried;
mod try_out;

use super::check_report::Reporting;
use super::explore::Beyond;
use super::power::Supply;
use super::{Failure, dialect, open_files};
use crate::check::{Selection, scenario};
use crate::cli::{CheckArgs, WatcherArgs};
use crate::commands::say::say;
use crate::exit_code::Outcome;
use crate::report::ReportHead;
use crate::report::terminal::{self, Look};
use crate::run::{self, Pace, RunError, Setting, StrainMeter};
use crate::watcher::{Watcher, WatcherFile};

pub(super) async fn check(args: CheckArgs) -> Result<Outcome, Failure> {
    let recorded = on_session::on_session(&args.on_session)?;
    if recorded.is_some() {
        // Before the catalogue is searched for them.
        on_session::checks(&args.only)?;
    }
    let selection = Selection {
        only: match recorded {
            Some(_) => Vec::new(),
            None => args.only.clone(),
        },
        part: args.part,
    };
    let checks = selection.checks().map_err(Failure::bad_input)?;
    if args.list {
        say(terminal::list(&checks, Look::of_stdout()));
        return Ok(Outcome::Done);
    }
    // Before anything runs: a file that cannot be read or written is told at once.
    let reporting = Reporting::open(&args.reports, &args.dialect)?;
    let supply = Supply::read(args.board.as_deref(), &args.cell)?;
    let pace = Pace {
        jobs: match args.watcher.attach {
            // There is one device, and one address.
            true => 1,
            false => open_files::side_by_side(usize::from(args.jobs)),
        },
        repeats: usize::from(args.repeats),
    };
    let spoken = dialect(&args.dialect)?;
    let beyond = Beyond::new(&args, &spoken)?;
    let checks = match beyond.takes_catalogue {
        true => checks,
        false => Vec::new(),
    };
    let setting = Setting {
        watcher: watcher(&args.watcher, args.command.clone())?,
        attach: attached::attach(&args.watcher)?,
        strain: StrainMeter::start(),
        dialect: spoken,
        dialect_name: args.dialect.clone(),
        seed: args.seed,
        interval: args.interval,
    };
    if let Some(on) = recorded {
        return on_session::check(&args, &setting, &on, reporting).await;
    }
    if let Some(attach) = &setting.attach {
        // Beside a report on standard output, too.
        eprint!("{}", attached::instructions(&setting, attach, checks.len()));
    }
    if args.watcher.try_ {
        return try_out::try_out(&setting, args.watcher.for_).await;
    }
    let fault = |error: RunError| Failure::new(error.outcome(), error);
    let calibration = run::calibrate(&setting, scenario("heat-up"))
        .await
        .map_err(fault)?;
    let head = ReportHead::of(&setting, args.part, &calibration);
    let mut telling = reporting.telling(head, &checks, beyond.count());
    let mut results = run::run_all(&setting, &calibration, &checks, pace, &mut telling)
        .await
        .map_err(fault)?;
    let more = beyond.run(&setting, &calibration, pace, &mut telling).await;
    results.extend(more.map_err(fault)?);
    let power = supply.map(|supply| supply.estimate(&calibration.traffic));
    telling.finish(&results, power.as_ref())
}

/// Gives the watcher: the one asked for, or this program as the reference watcher.
fn watcher(args: &WatcherArgs, words: Vec<String>) -> Result<Watcher, Failure> {
    if let Some(file) = &args.watcher {
        let file = WatcherFile::load(file).map_err(Failure::bad_input)?;
        if let Some(listen) = file.reachable_at() {
            eprintln!(
                "coldbed: caution: {listen}, where sightings are posted to, is reachable from other \
                 machines; sightings and their key cross the network unencrypted"
            );
        }
        let watcher = Watcher::from_file(file);
        if watcher.is_attached() && !args.attach && !args.try_ {
            return Err(Failure::bad_input(
                "the watcher file has no command, and nothing is attached [start it with --attach]",
            ));
        }
        if args.attach && !watcher.is_attached() {
            return Err(Failure::bad_input(
                "the watcher file has a command, so nothing is to be attached [leave out --attach]",
            ));
        }
        return Ok(watcher);
    }
    if args.attach {
        return Ok(Watcher::unseen());
    }
    if !words.is_empty() {
        return Ok(Watcher::from_command(words));
    }
    let own = std::env::current_exe().map_err(|error| Failure::new(Outcome::OwnFault, error))?;
    let own = own.to_string_lossy().into_owned();
    let rest = [
        "watch",
        "{url}",
        "--key",
        "{key}",
        "--every",
        "{interval}s",
        "--authority",
        "{authority}",
    ]
    .map(str::to_owned);
    let words = std::iter::once(own).chain(rest).collect();
    Ok(Watcher::from_command(words))
}
