//! `coldbed dialect lint`.

use std::fmt::Write as _;
use std::time::Duration;

use coldbed_mock::dialect::{DialectFile, LintError, Warning};
use coldbed_mock::sim::{Simulation, VirtualTime};

use super::print;
use crate::cli::LintArgs;
use crate::commands::{Failure, OnDisk, dialect, dialect_text, scenario};
use crate::exit_code::Outcome;

/// The moments shown unless others are asked for; the end of the scenario comes after them.
const MOMENTS_S: [u64; 3] = [0, 60, 1800];

pub(super) fn lint(args: &LintArgs) -> Result<Outcome, Failure> {
    let (file, text, _) = dialect_text(&args.dialect)?;
    let mut out = String::new();
    let warnings = match DialectFile::lint(file, &text, &OnDisk) {
        Ok(warnings) => warnings,
        Err(LintError { error, warnings }) => {
            if !warnings.is_empty() {
                tell(&mut out, file, &warnings);
                print(&out)?;
            }
            return Err(Failure::bad_input(error));
        }
    };
    tell(&mut out, file, &warnings);
    // Also finds that there is no such version.
    let dialects = dialect(&args.dialect)?;
    if args.preview {
        preview(&mut out, args, &dialects)?;
    }
    print(&out)?;
    Ok(if args.strict && !warnings.is_empty() {
        Outcome::Violated
    } else {
        Outcome::Done
    })
}

/// Writing to a string cannot fail, here and below.
fn tell(out: &mut String, file: &str, warnings: &[Warning]) {
    for warning in warnings {
        let _ = writeln!(out, "{file}:{warning}");
    }
    let _ = match warnings.len() {
        0 => writeln!(out, "{file}: no warnings"),
        1 => writeln!(out, "{file}: 1 warning"),
        several => writeln!(out, "{file}: {several} warnings"),
    };
}

fn preview(out: &mut String, args: &LintArgs, dialects: &DialectFile) -> Result<(), Failure> {
    let scenario = scenario(args.scenario.as_deref().unwrap_or("printing"))?;
    dialects
        .check_updates(&scenario)
        .map_err(Failure::bad_input)?;
    let mut moments = args.at.clone();
    if moments.is_empty() {
        moments.extend(MOMENTS_S.map(Duration::from_secs));
        moments.push(scenario.length.start().since_start());
    }
    moments.sort();
    moments.dedup();
    let name = scenario.name.clone();
    let mut simulation = Simulation::new(scenario, args.seed.unwrap_or(1));
    for at in moments {
        let truth = simulation.truth_at(VirtualTime::new(at));
        let version = dialects.spoken(&truth.printer);
        let span = jiff::SignedDuration::try_from(at).unwrap_or_default();
        for shown in version.preview(&truth) {
            let _ = writeln!(
                out,
                "\n== {name} at {span:#}: {}\n{}",
                shown.route, shown.text
            );
        }
    }
    Ok(())
}
