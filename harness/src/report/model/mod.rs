//! The report as a value: all that the other forms are made from, and what JSON holds.

mod build;
mod counts;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::check::{Area, Level};

pub use build::ReportHead;
pub use counts::Counts;

/// Is everything there is to say of a run of checks, in the catalogue's order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Report {
    /// The version of this form, now 1. It changes when something is renamed, removed or means
    /// something else; members may be added without that.
    pub report_version: u32,
    /// The version of the `coldbed` that judged.
    pub coldbed: String,
    /// The watcher: its command, as it was written.
    pub watcher: String,
    /// The dialect the hosts spoke, as it was named.
    pub dialect: String,
    /// The seed of every simulation.
    pub seed: u64,
    /// The part of the catalogue that was run, `K/N`; absent when it was not split.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// What was measured before anything was judged.
    pub calibration: CalibrationReport,
    /// How many checks came out how.
    pub counts: Counts,
    /// The checks.
    pub checks: Vec<CheckReport>,
    /// What the traffic costs a battery, where a board was named; docs/power.md tells of its members.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power: Option<serde_json::Value>,
}

/// Is what was measured of the watcher; every allowance follows from it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct CalibrationReport {
    /// The median time between two requests.
    pub interval_seconds: f64,
    /// The longest time between two requests.
    pub longest_interval_seconds: f64,
    /// The longest time between two requests while the printer was idle.
    pub longest_idle_interval_seconds: f64,
    /// The longest time between two claims.
    pub longest_claim_gap_seconds: f64,
    /// How late the harness itself was woken at worst.
    pub harness_delay_seconds: f64,
    /// How old an answer may be that a claim still rests on.
    pub freshness_seconds: f64,
    /// What the watcher reports, by the members of a sighting.
    pub reported: Vec<String>,
}

/// Is one check with what came of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct CheckReport {
    /// The check's stable name.
    pub id: String,
    /// The part of the catalogue it belongs to.
    pub area: Area,
    /// How binding it is: only a broken `must` fails a watcher.
    pub level: Level,
    /// What is owed.
    pub requirement: String,
    /// Where the rule comes from.
    pub source: String,
    /// What was done to provoke it.
    pub provoked: String,
    /// How it was judged.
    pub judged: String,
    /// The scenario it was judged on.
    pub scenario: String,
    /// What came of it.
    pub outcome: OutcomeWord,
    /// How it stands against the baseline; absent without one, and where nothing changed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub against_baseline: Option<Standing>,
    /// What is worth knowing of a rule that was kept.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Why it was skipped.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reason: String,
    /// How the rule was broken, in the first run that broke it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub violations: Vec<ViolationReport>,
    /// The runs it was judged by, in order; none if it was skipped without one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub attempts: Vec<AttemptReport>,
}

/// Says what came of a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum OutcomeWord {
    /// The rule was kept.
    Passed,
    /// A must was broken, and again when the run was repeated.
    Failed,
    /// A should was broken, and again when the run was repeated; it fails nothing.
    Lacks,
    /// Broken in one run and kept in another of the same plan: neither can be said.
    Unsteady,
    /// There was nothing to judge by.
    Skipped,
}

/// Says how a check stands against an earlier run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// It was broken then, too: it fails nothing now.
    Known,
    /// It was not broken then, or not run.
    New,
    /// It was broken then, and is kept now.
    Mended,
}

/// Says how a rule was broken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct ViolationReport {
    /// What was tried, where a check tries several things: the drift and its place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub subject: Option<String>,
    /// What would have been right.
    pub allowed: String,
    /// What was seen instead.
    pub observed: String,
    /// The moment, real time since the run began.
    pub at_seconds: f64,
}

/// Is one run of a check.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct AttemptReport {
    /// What it showed.
    pub verdict: AttemptVerdict,
    /// How long it took in real time.
    pub took_seconds: f64,
    /// How late this machine ran things at worst meanwhile; it is part of every allowance.
    pub harness_delay_seconds: f64,
}

/// Says what one run showed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum AttemptVerdict {
    /// The rule was kept.
    Held,
    /// It was broken.
    Violated,
    /// There was nothing to judge by.
    NotJudged,
}

/// Is what a check counts as, the baseline included: the one word at its line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// The rule was kept.
    Passed,
    /// The rule is kept now and was broken in the baseline.
    Mended,
    /// A must is broken.
    Failed,
    /// A should is broken.
    Lacks,
    /// Broken and kept by turns.
    Unsteady,
    /// Broken as in the baseline.
    Known,
    /// There was nothing to judge by.
    Skipped,
}

impl Verdict {
    /// Gives the word at a check's line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Passed => "passed",
            Self::Mended => "mended",
            Self::Failed => "FAILED",
            Self::Lacks => "lacks",
            Self::Unsteady => "unsteady",
            Self::Known => "known",
            Self::Skipped => "skipped",
        }
    }

    /// Tells whether there is a violation to show.
    pub const fn is_broken(self) -> bool {
        matches!(
            self,
            Self::Failed | Self::Lacks | Self::Unsteady | Self::Known
        )
    }
}

impl CheckReport {
    /// Gives what the check counts as.
    pub fn verdict(&self) -> Verdict {
        match (self.outcome, self.against_baseline) {
            (OutcomeWord::Passed, Some(Standing::Mended)) => Verdict::Mended,
            (OutcomeWord::Passed, _) => Verdict::Passed,
            (OutcomeWord::Failed | OutcomeWord::Lacks, Some(Standing::Known)) => Verdict::Known,
            (OutcomeWord::Failed, _) => Verdict::Failed,
            (OutcomeWord::Lacks, _) => Verdict::Lacks,
            (OutcomeWord::Unsteady, _) => Verdict::Unsteady,
            (OutcomeWord::Skipped, _) => Verdict::Skipped,
        }
    }

    /// Puts together what is about the same subject, in the order of the first of each.
    pub fn by_subject(&self) -> Vec<Vec<&ViolationReport>> {
        let mut groups: Vec<Vec<&ViolationReport>> = Vec::new();
        for violation in &self.violations {
            let same = |group: &&mut Vec<&ViolationReport>| group[0].subject == violation.subject;
            match groups.iter_mut().find(same) {
                Some(group) => group.push(violation),
                None => groups.push(vec![violation]),
            }
        }
        groups
    }

    /// Gives how long its runs took together, s.
    pub fn took_seconds(&self) -> f64 {
        self.attempts
            .iter()
            .map(|attempt| attempt.took_seconds)
            .sum()
    }
}

impl Report {
    /// The version of the form that is written and read.
    pub const VERSION: u32 = 1;

    /// Tells whether a must is broken that was not known before.
    pub fn is_failure(&self) -> bool {
        self.counts.failed > 0
    }
}

/// Gives the JSON Schema of [`Report`].
pub fn schema() -> Value {
    let mut schema = schemars::schema_for!(Report).to_value();
    schema["title"] = "A report of coldbed check".into();
    schema
}
