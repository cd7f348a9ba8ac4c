//! `coldbed shrink`.

mod kept;
mod rule;
mod trial;

use std::path::{Path, PathBuf};

use coldbed_session::Session;
use indicatif::{ProgressBar, ProgressStyle};
use regex::Regex;

use super::serve::Ending;
use super::{Failure, open_files, session_file};
use crate::cli::ShrinkArgs;
use crate::commands::say::say;
use crate::exit_code::Outcome;
use crate::shrink::delta::Trial as _;
use crate::shrink::session::{Reduction, Stage, reduce};
use crate::watcher::{Watcher, WatcherFile};

use kept::Kept;
use trial::{Fails, Runs};

pub(super) async fn shrink(args: ShrinkArgs) -> Result<Outcome, Failure> {
    open_files::raise_limit();
    let session = session_file::read(&args.file)?;
    let to = args.to.clone().unwrap_or_else(|| small_name(&args.file));
    let fails = fails(&args)?;
    let runs = Runs {
        watcher: match args.check {
            Some(_) => Watcher::from_command(args.command.clone()),
            None => watcher(&args.command)?,
        },
        rate: args.rate,
        patience: args.patience,
        grace: args.grace,
        repeats: args.repeats,
        interval: args.interval,
        fails,
    };
    let mut ending = Ending::watch()?;
    if !runs.fails(&session).await {
        return Err(Failure::bad_input(format!(
            "the command does not fail on the whole session: {} [say what failing is with --exit-status, \
             --output, --output-matches or --check]",
            runs.told()
        )));
    }
    let what = format!("{:?} {} {}", args.command, runs.told(), args.repeats);
    let mut kept = Kept::open(&to, &what, &session, args.fresh)
        .map_err(|error| Failure::bad_input(format!("cannot keep what was tried: {error}")))?;
    let known = kept.known();
    let bar = bar();
    let mut told = |stage: Stage, key: &str, failed: bool| {
        bar.set_message(word(stage));
        bar.inc(1);
        // A second run tries again what could not be kept.
        let _ = kept.add(key, failed);
    };
    let reducing = reduce(&session, &runs, usize::from(args.jobs), known, &mut told);
    let reduction = tokio::select! {
        reduction = reducing => reduction,
        () = ending.wait() => {
            bar.finish_and_clear();
            eprintln!("coldbed: ended; the same command goes on from here");
            return Ok(Outcome::Done);
        }
    };
    bar.finish_and_clear();
    session_file::write(&reduction.session, &to)?;
    if !runs.fails(&reduction.session).await {
        return Err(Failure::new(
            Outcome::OwnFault,
            format!(
                "what is in `{}` failed once and does not fail again: the failure depends on chance [ask \
                 for more with --repeats]",
                to.display()
            ),
        ));
    }
    say(summary(&reduction, &to));
    Ok(Outcome::Done)
}

/// Gives the command as a watcher of which every line is text: nothing in it is a claim here.
fn watcher(command: &[String]) -> Result<Watcher, Failure> {
    // Nothing stands after the end of a line.
    let text = format!(
        "command = {}\n[sightings]\nlines = {{ pattern = '\\z(?<nothing>.)' }}\n[sightings.fields]\nphase = \"nothing\"\n",
        toml::Value::from(command.to_vec())
    );
    let file = WatcherFile::parse("the command", &text).map_err(Failure::bad_input)?;
    Ok(Watcher::from_file(file))
}

fn fails(args: &ShrinkArgs) -> Result<Fails, Failure> {
    if let Some(text) = &args.output_matches {
        let pattern = Regex::new(text)
            .map_err(|error| Failure::bad_input(format!("--output-matches: {error}")))?;
        return Ok(Fails::Matches(pattern));
    }
    if let Some(id) = &args.check {
        return Ok(Fails::Breaks(Box::new(rule::rule(id, args)?)));
    }
    Ok(match (&args.output, args.exit_status) {
        (Some(text), _) => Fails::Prints(text.clone()),
        (None, Some(status)) => Fails::EndsWith(status),
        (None, None) => Fails::EndsBadly,
    })
}

/// Gives `night.small.jsonl` for `night.jsonl`.
fn small_name(file: &Path) -> PathBuf {
    let ending = file
        .extension()
        .map_or_else(|| "jsonl".into(), |ending| ending.to_string_lossy());
    file.with_extension(format!("small.{ending}"))
}

fn bar() -> ProgressBar {
    let bar = ProgressBar::new_spinner();
    // Hidden where standard error is no terminal. The template is our own and valid.
    let style = ProgressStyle::with_template("{pos} trials in {elapsed}: leaving out {msg}");
    bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_spinner()));
    bar
}

fn word(stage: Stage) -> &'static str {
    match stage {
        Stage::Exchanges => "exchanges",
        Stage::Pushed => "what was pushed",
        Stage::Members => "members of bodies",
        Stage::Values => "values of bodies",
        Stage::Fields => "fields",
    }
}

fn summary(reduction: &Reduction, to: &Path) -> String {
    let left: &Session = &reduction.session;
    format!(
        "{} of {} exchanges and {} of {} bytes of bodies are left after {} trials, in `{}`\n\
         coldbed session show {} --exchange {}\ncoldbed replay {} --match in-order\n",
        left.exchanges.len(),
        reduction.exchanges_before,
        reduction.body_bytes.1,
        reduction.body_bytes.0,
        reduction.trials,
        to.display(),
        to.display(),
        left.exchanges.first().map_or(1, |exchange| exchange.number),
        to.display(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_command_is_taken_as_it_is() {
        let words = ["sh", "-c", "echo \"a\" 'b' \\ {url}"].map(str::to_owned);
        assert!(watcher(&words).is_ok());
    }

    #[test]
    fn the_small_file_stands_beside_the_other() {
        assert_eq!(
            small_name(Path::new("a/night.jsonl")),
            Path::new("a/night.small.jsonl")
        );
        assert_eq!(
            small_name(Path::new("night")),
            Path::new("night.small.jsonl")
        );
    }

    #[test]
    fn the_summary_says_what_is_left_and_how_to_see_it() {
        let reduction = Reduction {
            session: Session::default(),
            trials: 77,
            exchanges_before: 2000,
            body_bytes: (400_000, 47),
        };
        insta::assert_snapshot!(summary(&reduction, Path::new("night.small.jsonl")), @r"
        0 of 2000 exchanges and 47 of 400000 bytes of bodies are left after 77 trials, in `night.small.jsonl`
        coldbed session show night.small.jsonl --exchange 1
        coldbed replay night.small.jsonl --match in-order
        ");
    }
}
