//! An earlier run that later ones are held against.

use std::collections::BTreeSet;

use super::{CheckReport, OutcomeWord, Report, Standing};

/// Is which checks an earlier run found broken.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Baseline {
    broken: BTreeSet<String>,
}

/// Says why a text is no baseline.
#[derive(Debug, thiserror::Error)]
pub enum BaselineError {
    /// It is no JSON, or another document.
    #[error("it is no report of `coldbed check --report json=FILE`")]
    NoReport(#[source] Box<dyn std::error::Error + Send + Sync>),
    /// Its form is another version's.
    #[error("it is a report of version {version}, and this coldbed reads version {known}")]
    Version {
        /// The version it names.
        version: u64,
        /// The version that is read.
        known: u32,
    },
    /// It was made with another dialect.
    #[error(
        "it was made with the dialect `{theirs}`, and this run speaks `{ours}` [judge against a \
         baseline of the same dialect]"
    )]
    Dialect {
        /// The report's dialect.
        theirs: String,
        /// The run's.
        ours: String,
    },
}

impl Baseline {
    /// Reads a report for a run in a dialect.
    ///
    /// # Errors
    /// [`BaselineError`] for what is no report, is one of another version, or of another dialect.
    pub fn read(text: &str, dialect: &str) -> Result<Self, BaselineError> {
        let value: serde_json::Value =
            serde_json::from_str(text).map_err(|error| BaselineError::NoReport(error.into()))?;
        // Told apart from a wrong form before the form is looked at: another version has another.
        match value.get("report-version").map(serde_json::Value::as_u64) {
            Some(Some(version)) if version != u64::from(Report::VERSION) => {
                return Err(BaselineError::Version {
                    version,
                    known: Report::VERSION,
                });
            }
            _ => {}
        }
        let report: Report = serde_path_to_error::deserialize(value)
            .map_err(|error| BaselineError::NoReport(error.into()))?;
        if report.dialect != dialect {
            return Err(BaselineError::Dialect {
                theirs: report.dialect,
                ours: dialect.to_owned(),
            });
        }
        let broken = report.checks.into_iter().filter(is_broken);
        Ok(Self {
            broken: broken.map(|check| check.id).collect(),
        })
    }

    /// Adds what another run found, such as that of another part.
    #[must_use]
    pub fn and(mut self, other: Self) -> Self {
        self.broken.extend(other.broken);
        self
    }

    /// Tells how a check stands against it.
    pub fn standing(&self, check: &CheckReport) -> Option<Standing> {
        let was_broken = self.broken.contains(&check.id);
        match (check.outcome, was_broken) {
            (OutcomeWord::Failed | OutcomeWord::Lacks, true) => Some(Standing::Known),
            (OutcomeWord::Failed | OutcomeWord::Lacks, false) => Some(Standing::New),
            (OutcomeWord::Passed, true) => Some(Standing::Mended),
            // What comes and goes, or was not judged, is neither.
            _ => None,
        }
    }
}

/// What came and went in the earlier run may come again: it is known, too.
fn is_broken(check: &CheckReport) -> bool {
    matches!(
        check.outcome,
        OutcomeWord::Failed | OutcomeWord::Lacks | OutcomeWord::Unsteady
    )
}
