//! Generated plans, and where what fails is saved.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::scenario::Scenario;
use coldbed_mock::sim::VirtualTime;
use proptest::strategy::{BoxedStrategy, ValueTree};

use super::{Failure, judged_as};
use crate::check::{Plan, Step};
use crate::cli::CheckArgs;
use crate::oracle::Timing;
use crate::run::Planned;
use crate::shrink::{BEAT, TroublePlan, body_of, plan_number, plans};

/// Is what generated plans are made from, and what becomes of those that fail.
pub(super) struct Generated {
    count: u32,
    seed: u64,
    strategy: BoxedStrategy<TroublePlan>,
    pub(super) save: PathBuf,
    /// How many smaller plans are tried for each that fails.
    pub(super) shrink_runs: usize,
    dialect: String,
    command: Vec<String>,
    watcher: Option<PathBuf>,
}

impl Generated {
    pub(super) fn new(
        count: u32,
        args: &CheckArgs,
        dialect: &DialectFile,
    ) -> Result<Self, Failure> {
        let save = &args.explore.save;
        is_writable(save).map_err(|error| {
            let message = format!(
                "--save: no file can be made in `{}`: {error}",
                save.display()
            );
            Failure::bad_input(message)
        })?;
        Ok(Self {
            count,
            seed: args.seed,
            strategy: plans(body_of(dialect.first()).as_ref()),
            save: save.clone(),
            shrink_runs: usize::from(args.explore.shrink_runs),
            dialect: args.dialect.clone(),
            command: args.command.clone(),
            watcher: args.watcher.watcher.clone(),
        })
    }

    pub(super) fn count(&self) -> usize {
        usize::try_from(self.count).unwrap_or(usize::MAX)
    }

    /// Gives the numbers of the plans.
    pub(super) fn numbers(&self) -> std::ops::RangeInclusive<u32> {
        1..=self.count
    }

    /// Makes the plan of that number anew.
    pub(super) fn tree(&self, number: u32) -> Box<dyn ValueTree<Value = TroublePlan>> {
        plan_number(&self.strategy, self.seed, number)
    }

    pub(super) fn name(&self, number: u32) -> String {
        format!("explored-{}-{number}", self.seed)
    }

    pub(super) fn file(&self, number: u32) -> PathBuf {
        self.save.join(format!("{}.toml", self.name(number)))
    }

    /// Makes a plan ready to be run. The scenario is the one that would be saved.
    ///
    /// # Panics
    /// If a generated plan is no scenario; the strategies give only such as are.
    pub(super) fn planned(&self, number: u32, plan: &TroublePlan, timing: &Timing) -> Planned {
        let name = format!("{}.toml", self.name(number));
        let scenario = plan
            .text("")
            .map_err(|error| error.to_string())
            .and_then(|text| Scenario::parse(&name, &text).map_err(|error| error.to_string()));
        let scenario = match scenario {
            Ok(scenario) => Arc::new(scenario),
            Err(error) => panic!("a generated plan: {error}"),
        };
        let until = VirtualTime::new(BEAT * plan.length());
        Planned {
            check: judged_as(&self.name(number), &name),
            scenario,
            plan: Arc::new(Plan::of([Step::Play {
                until,
                per_poll: per_poll(timing),
            }])),
        }
    }

    /// Gives the command that replays a saved plan.
    pub(super) fn replay(&self, file: &Path, timing: &Timing) -> String {
        let mut words = ["coldbed", "check", "--scenario"]
            .map(str::to_owned)
            .to_vec();
        words.push(quoted(&file.display().to_string()));
        words.push(format!("--per-poll {}s", per_poll(timing).as_secs()));
        words.push(format!("--seed {}", self.seed));
        words.push(format!("--dialect {}", quoted(&self.dialect)));
        if let Some(file) = &self.watcher {
            words.push(format!("--watcher {}", quoted(&file.display().to_string())));
        }
        if !self.command.is_empty() {
            words.push("--".to_owned());
            words.extend(self.command.iter().map(|word| quoted(word)));
        }
        words.join(" ")
    }
}

/// So many beats have to hold what a watcher is allowed until it says unknown, or no trouble would last
/// long enough to tell (own choice: most generated troubles last longer).
const BEATS_UNTIL_UNKNOWN: u32 = 6;

/// Gives how much virtual time passes in one poll, in whole seconds, so that it can be written down.
pub(super) fn per_poll(timing: &Timing) -> Duration {
    let patience = timing.unknown_within() + timing.longest_interval;
    let beat = timing.interval.max(patience / BEATS_UNTIL_UNKNOWN);
    let share = timing.interval.as_secs_f64() / beat.as_secs_f64();
    let seconds = (BEAT.as_secs_f64() * share).round().max(1.0);
    Duration::from_secs_f64(seconds)
}

/// Writes a word as a POSIX shell takes it.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "-_./:=@%+,{}".contains(c);
    if !word.is_empty() && word.chars().all(is_plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

fn is_writable(dir: &Path) -> std::io::Result<()> {
    tempfile::Builder::new()
        .prefix(".coldbed-")
        .tempfile_in(dir)
        .map(drop)
        .map_err(|error| {
            // The system's words alone: the path in the other error is that of a temporary file.
            error
                .raw_os_error()
                .map_or(error, std::io::Error::from_raw_os_error)
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_command_is_written_so_that_a_shell_takes_it_as_it_was() {
        assert_eq!(quoted("{url}"), "{url}");
        assert_eq!(quoted("it's"), r"'it'\''s'");
        assert_eq!(quoted("a b"), "'a b'");
        assert_eq!(quoted(""), "''");
    }

    #[test]
    fn a_slow_watcher_has_a_beat_a_poll_and_a_quick_one_several_polls_a_beat() {
        let timing = |millis| {
            let interval = Duration::from_millis(millis);
            Timing {
                interval,
                longest_interval: interval,
                longest_idle_interval: interval,
                longest_claim_gap: interval,
                harness_delay: Duration::ZERO,
            }
        };
        assert_eq!(per_poll(&timing(30_000)), BEAT);
        let quick = timing(100);
        let beat =
            quick.interval.as_secs_f64() * BEAT.as_secs_f64() / per_poll(&quick).as_secs_f64();
        assert!(beat * 10.0 > quick.unknown_within().as_secs_f64(), "{beat}");
    }
}
