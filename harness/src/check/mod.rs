//! The catalogue: every rule a watcher owes, as data with a short function each.
//!
//! Owns: ids, levels, requirements, sources, and what is done to provoke each rule. How a plan is
//! carried out is [`crate::run`]'s, how its outcome is judged [`crate::oracle`]'s.

mod clips;
mod commands;
mod connection;
mod drift;
mod endurance;
mod length;
mod manners;
#[cfg(test)]
mod page;
mod plan;
mod recorded;
mod scenarios;
mod secrecy;
mod select;
mod sleep;
mod telling;

use std::collections::BTreeSet;
use std::sync::Arc;

use coldbed_mock::dialect::DialectFile;
use coldbed_mock::scenario::Scenario;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use plan::{Awaited, Episode, Outage, Plan, Setup, Step, episodes};
pub use recorded::recorded;
pub use scenarios::scenario;
pub use select::{Part, SelectError, Selection};

use crate::oracle::{Timing, Trace, Verdict};
use crate::watcher::{CommandKind, Sighting};

/// Says how binding a rule is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// Breaking it fails the watcher.
    Must,
    /// Breaking it is reported, and fails nothing.
    Should,
}

impl Level {
    /// Gives the word in reports and files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Must => "must",
            Self::Should => "should",
        }
    }
}

/// Is a part of the catalogue.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Area {
    /// What is claimed is true.
    Telling,
    /// Bodies that differ from what the watcher's author saw.
    Drift,
    /// Connections that fail, and hosts that are not ready.
    Connection,
    /// Sleep and wake.
    Sleep,
    /// What a watcher owes its host and its network.
    Manners,
    /// The key stays where it belongs.
    Secrecy,
    /// What only shows after long.
    Endurance,
    /// What is asked of the printer.
    Commands,
}

impl Area {
    /// Every area, in the order of reports.
    pub const ALL: [Self; 8] = [
        Self::Telling,
        Self::Drift,
        Self::Connection,
        Self::Sleep,
        Self::Manners,
        Self::Secrecy,
        Self::Endurance,
        Self::Commands,
    ];

    /// Gives the name in reports and files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Telling => "telling",
            Self::Drift => "drift",
            Self::Connection => "connection",
            Self::Sleep => "sleep",
            Self::Manners => "manners",
            Self::Secrecy => "secrecy",
            Self::Endurance => "endurance",
            Self::Commands => "commands",
        }
    }

    /// Says what its checks are about, in one sentence.
    pub const fn about(self) -> &'static str {
        match self {
            Self::Telling => "what is claimed is true",
            Self::Drift => "bodies that differ from what the watcher's author saw",
            Self::Connection => "connections that fail, and hosts that are not ready",
            Self::Sleep => "sleep and wake",
            Self::Manners => "what a watcher owes its host and its network",
            Self::Secrecy => "the key stays where it belongs",
            Self::Endurance => "what only shows after long",
            Self::Commands => "what is asked of the printer",
        }
    }
}

/// Is a rule a watcher owes.
#[derive(Clone, Copy)]
pub struct Check {
    /// Stable, and says what is wrong when it fails.
    pub id: &'static str,
    /// The part of the catalogue it belongs to.
    pub area: Area,
    /// How binding it is.
    pub level: Level,
    /// What is owed, in one sentence.
    pub requirement: &'static str,
    /// Where the rule comes from.
    pub source: &'static str,
    /// What is done to provoke it, in one sentence.
    pub provoked: &'static str,
    /// How it is judged, in one sentence.
    pub judged: &'static str,
    /// The scenario it is judged on, by [`scenario`]; empty if on a recorded session.
    pub scenario: &'static str,
    /// What the watcher must report for it to be judged.
    pub needs: Field,
    /// What is done.
    pub plan: fn(&Context) -> Result<Plan, NotPlanned>,
    /// How it is judged.
    pub oracle: fn(&Trace<'_>, &Context) -> Verdict,
}

impl std::fmt::Debug for Check {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Check")
            .field("id", &self.id)
            .finish_non_exhaustive()
    }
}

/// Says why a rule cannot be provoked on this host, so that nothing can be judged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotPlanned(pub String);

/// Is what a plan and an oracle may use.
#[derive(Debug, Clone)]
pub struct Context {
    /// The scenario of the run.
    pub scenario: Arc<Scenario>,
    /// The measured rhythm.
    pub timing: Timing,
    /// The dialect that the watcher speaks.
    pub dialect: Arc<DialectFile>,
    /// The key the watcher was given.
    pub key: String,
    /// What the watcher reported while it was measured.
    pub reported: BTreeSet<Field>,
    /// The paths it asked for while it was measured.
    pub asked: BTreeSet<String>,
    /// Whether it is told of changes on a stream rather than asking again and again.
    pub subscribes: bool,
    /// Whether it can be told how often to ask.
    pub takes_interval: bool,
    /// What it can be told to ask of the printer.
    pub commands: Vec<CommandKind>,
}

/// Names something a watcher may or may not report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Field {
    /// Nothing: the rule is about requests.
    Nothing,
    /// Any claim at all.
    Anything,
    /// The phase.
    Phase,
    /// A heater's actual temperature.
    Actual,
    /// A heater's target.
    Target,
    /// Whether a heater is on.
    On,
    /// Progress.
    Progress,
    /// Elapsed time.
    Elapsed,
    /// Remaining time.
    Remaining,
    /// The job's name.
    JobName,
    /// Why the printer does not print.
    Reason,
    /// Whether the hot parts may be touched.
    Safe,
}

impl Field {
    /// Every field, in the order of reports.
    pub const ALL: [Self; 12] = [
        Self::Nothing,
        Self::Anything,
        Self::Phase,
        Self::Actual,
        Self::Target,
        Self::On,
        Self::Progress,
        Self::Elapsed,
        Self::Remaining,
        Self::JobName,
        Self::Reason,
        Self::Safe,
    ];

    /// Gives the member's name in a sighting.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nothing | Self::Anything => "anything",
            Self::Phase => "phase",
            Self::Actual => "actual-celsius",
            Self::Target => "target-celsius",
            Self::On => "on",
            Self::Progress => "progress-percent",
            Self::Elapsed => "elapsed-seconds",
            Self::Remaining => "remaining-seconds",
            Self::JobName => "job-name",
            Self::Reason => "reason",
            Self::Safe => "safe-to-touch",
        }
    }

    /// Tells whether a sighting reports it, known or not.
    pub fn is_reported_in(self, sighting: &Sighting) -> bool {
        let mut heaters = sighting.heaters.values();
        match self {
            Self::Nothing | Self::Anything => true,
            Self::Phase => sighting.phase.is_reported(),
            Self::Actual => heaters.any(|heater| heater.actual_celsius.is_reported()),
            Self::Target => heaters.any(|heater| heater.target_celsius.is_reported()),
            Self::On => heaters.any(|heater| heater.on.is_reported()),
            Self::Progress => sighting.progress_percent.is_reported(),
            Self::Elapsed => sighting.elapsed_seconds.is_reported(),
            Self::Remaining => sighting.remaining_seconds.is_reported(),
            Self::JobName => sighting.job_name.is_reported(),
            Self::Reason => sighting.reason.is_reported(),
            Self::Safe => sighting.safe_to_touch.is_reported(),
        }
    }
}

/// Gives every check, in the order of reports.
pub fn catalogue() -> Vec<Check> {
    [
        &telling::checks(),
        &drift::checks(),
        connection::OWED,
        connection::HOST,
        connection::CLOCK,
        connection::STREAM,
        sleep::CHECKS,
        manners::WHILE_DOWN,
        manners::ASKED_TO_WAIT,
        manners::ASKING,
        secrecy::CHECKS,
        commands::CHECKS,
        endurance::CHECKS,
    ]
    .concat()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_unique_and_written_in_kebab_case() {
        let mut ids: Vec<&str> = catalogue().iter().map(|check| check.id).collect();
        let is_letter = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        let is_kebab = |id: &str| id.chars().all(is_letter);
        assert!(ids.iter().all(|id| is_kebab(id)), "{ids:?}");
        let count = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), count);
    }

    #[test]
    fn every_check_names_a_scenario_that_is_there_and_a_source() {
        for check in catalogue() {
            assert!(
                !scenario(check.scenario)
                    .length
                    .start()
                    .since_start()
                    .is_zero()
            );
            assert!(
                !check.provoked.is_empty() && !check.judged.is_empty(),
                "{}",
                check.id
            );
            assert!(!check.source.is_empty(), "{}", check.id);
            assert!(!check.requirement.ends_with('.'), "{}", check.id);
        }
    }
}
