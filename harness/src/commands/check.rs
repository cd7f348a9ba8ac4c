//! `coldbed check`.

use super::power::Supply;
use super::{Failure, dialect, open_files};
use crate::check::{Check, Selection, catalogue, scenario};
use crate::cli::CheckArgs;
use crate::exit_code::Outcome;
use crate::report::terminal;
use crate::run::{self, Pace, RunError, Setting, StrainMeter};
use crate::watcher::Watcher;

pub(super) async fn check(args: CheckArgs) -> Result<Outcome, Failure> {
    let selection = Selection {
        only: args.only,
        part: args.part,
    };
    let checks = selection.checks().map_err(Failure::bad_input)?;
    if args.list {
        print!("{}", terminal::list(&checks));
        return Ok(Outcome::Done);
    }
    let supply = Supply::read(args.board.as_deref(), &args.cell)?;
    let pace = Pace {
        jobs: open_files::side_by_side(usize::from(args.jobs)),
        repeats: usize::from(args.repeats),
    };
    let setting = Setting {
        watcher: Watcher::from_command(command(args.command)?),
        attach: None,
        strain: StrainMeter::start(),
        dialect: dialect(&args.dialect)?,
        dialect_name: args.dialect,
        seed: args.seed,
    };
    judge(&setting, &checks, pace, supply.as_ref())
        .await
        .map_err(|error| Failure::new(error.outcome(), error))
}

/// How wide the estimate is written.
const WIDTH: usize = 100;

async fn judge(
    setting: &Setting,
    checks: &[Check],
    pace: Pace,
    supply: Option<&Supply>,
) -> Result<Outcome, RunError> {
    let calibration = run::calibrate(setting, scenario("heat-up")).await?;
    print!(
        "{}",
        terminal::heading(&calibration, checks.len(), setting.seed)
    );
    let width = catalogue()
        .iter()
        .map(|check| check.id.len())
        .max()
        .unwrap_or(0);
    let results = run::run_all(setting, &calibration, checks, pace, |result| {
        print!("{}", terminal::line(result, width));
    })
    .await?;
    print!("{}", terminal::details(&results));
    if let Some(supply) = supply {
        print!("\n{}", supply.text(&calibration.traffic, WIDTH));
    }
    print!("{}", terminal::summary(&results));
    let broken = results.iter().any(terminal::breaks_a_must);
    Ok(if broken {
        Outcome::Violated
    } else {
        Outcome::Done
    })
}

/// Gives the watcher's command: the one asked for, or this program as the reference watcher.
fn command(words: Vec<String>) -> Result<Vec<String>, Failure> {
    if !words.is_empty() {
        return Ok(words);
    }
    let own = std::env::current_exe().map_err(|error| Failure::new(Outcome::OwnFault, error))?;
    let own = own.to_string_lossy().into_owned();
    let rest = ["watch", "{url}", "--key", "{key}", "--every", "{interval}s"].map(str::to_owned);
    Ok(std::iter::once(own).chain(rest).collect())
}
