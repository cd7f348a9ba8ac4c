//! What becomes of the verdicts of `coldbed check`: lines on the terminal, reports in files.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::Failure;
use super::say::say;
use super::whole_file::WholeFile;
use crate::check::Check;
use crate::cli::ReportArgs;
use crate::exit_code::Outcome;
use crate::power::{self, PowerEstimate};
use crate::report::terminal::{self, Lines, Look, Progress};
use crate::report::{self, Baseline, CheckReport, Format, Report, ReportHead, Target};
use crate::run::{CheckResult, Onlooker};

/// Says why a file was not written or not read.
#[derive(Debug, thiserror::Error)]
enum FileError {
    /// It cannot be written.
    #[error("cannot write the report `{}`", file.display())]
    Write {
        /// The file.
        file: PathBuf,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// It cannot be read.
    #[error("cannot read the baseline `{}`", file.display())]
    Read {
        /// The file.
        file: PathBuf,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// What it holds is of no use.
    #[error("the baseline `{}` is of no use", file.display())]
    Baseline {
        /// The file.
        file: PathBuf,
        /// Why not.
        #[source]
        source: report::BaselineError,
    },
    /// Two reports have the same place.
    #[error("two reports go to `{place}` [give each a file of its own]")]
    Twice {
        /// The file, or what stands for standard output.
        place: String,
    },
}

/// Is what is to be written, and what it is held against.
pub(super) struct Reporting<'a> {
    files: Vec<(Format, &'a Path)>,
    to_stdout: Option<Format>,
    baseline: Option<Baseline>,
}

impl<'a> Reporting<'a> {
    /// Sees that the reports can be written, and reads the baselines.
    pub(super) fn open(args: &'a ReportArgs, dialect: &str) -> Result<Self, Failure> {
        let mut files: Vec<(Format, &Path)> = Vec::new();
        let mut to_stdout = None;
        for wanted in &args.report {
            let is_taken = match &wanted.to {
                Target::Stdout => to_stdout.replace(wanted.format).is_some(),
                Target::File(file) => {
                    // Opened again when there is something to write: nothing is left behind
                    // where a run is broken off.
                    WholeFile::beside(file).map_err(|source| cannot_write(file, source))?;
                    let is_taken = files.iter().any(|(_, other)| other == file);
                    files.push((wanted.format, file));
                    is_taken
                }
            };
            if is_taken {
                let place = match &wanted.to {
                    Target::Stdout => "-".to_owned(),
                    Target::File(file) => file.display().to_string(),
                };
                return Err(Failure::bad_input(FileError::Twice { place }));
            }
        }
        let mut baseline: Option<Baseline> = None;
        for file in &args.baseline {
            let one = read_baseline(file, dialect).map_err(Failure::bad_input)?;
            baseline = Some(baseline.unwrap_or_default().and(one));
        }
        Ok(Self {
            files,
            to_stdout,
            baseline,
        })
    }

    /// Begins to tell: says what was measured. `more` are judged beyond the catalogue.
    pub(super) fn telling(self, head: ReportHead, checks: &[Check], more: usize) -> Telling<'a> {
        let look = Look::of_stdout();
        let telling = Telling {
            lines: Lines::of(checks, look),
            progress: Progress::of(checks.len() + more),
            look,
            head,
            reporting: self,
        };
        telling.print(&terminal::heading(&telling.head, checks.len() + more, look));
        telling
    }

    fn write(self, report: &Report, results: &[CheckResult]) -> Result<(), Failure> {
        if let Some(format) = self.to_stdout {
            let text = text(format, report, results)?;
            std::io::stdout()
                .write_all(text.as_bytes())
                .map_err(|error| Failure::new(Outcome::OwnFault, error))?;
        }
        for (format, file) in self.files {
            let text = text(format, report, results)?;
            WholeFile::beside(file)
                .and_then(|mut whole| {
                    whole.put(text.as_bytes())?;
                    whole.finish()
                })
                .map_err(|source| cannot_write(file, source))?;
        }
        Ok(())
    }
}

fn cannot_write(file: &Path, source: std::io::Error) -> Failure {
    Failure::bad_input(FileError::Write {
        file: file.to_owned(),
        source,
    })
}

fn read_baseline(file: &Path, dialect: &str) -> Result<Baseline, FileError> {
    let text = std::fs::read_to_string(file).map_err(|source| FileError::Read {
        file: file.to_owned(),
        source,
    })?;
    Baseline::read(&text, dialect).map_err(|source| FileError::Baseline {
        file: file.to_owned(),
        source,
    })
}

fn text(format: Format, report: &Report, results: &[CheckResult]) -> Result<String, Failure> {
    Ok(match format {
        Format::Json => report::json(report),
        Format::Tap => report::tap(report),
        Format::Junit => {
            report::junit(report).map_err(|error| Failure::new(Outcome::OwnFault, error))?
        }
        Format::Html => report::html::html(report, results)
            .map_err(|error| Failure::new(Outcome::OwnFault, error))?,
    })
}

/// Tells of the checks as they come in, and of all of them at the end.
pub(super) struct Telling<'a> {
    look: Look,
    lines: Lines,
    progress: Progress,
    head: ReportHead,
    reporting: Reporting<'a>,
}

impl Telling<'_> {
    /// Writes for people, unless standard output is a report for machines.
    fn print(&self, text: &str) {
        if self.reporting.to_stdout.is_none() {
            self.progress.above(|| say(text));
        }
    }

    fn report_of(&self, result: &CheckResult) -> CheckReport {
        let mut check = CheckReport::of(result);
        if let Some(baseline) = &self.reporting.baseline {
            check.against_baseline = baseline.standing(&check);
        }
        check
    }

    /// Says what was broken, writes the reports, and gives what the exit code is made from.
    pub(super) fn finish(
        self,
        results: &[CheckResult],
        power: Option<&PowerEstimate>,
    ) -> Result<Outcome, Failure> {
        self.progress.end();
        // Anew: what failed in a search has been made smaller since it was told.
        let checks = results
            .iter()
            .map(|result| self.report_of(result))
            .collect();
        let mut report = self.head.clone().with(checks);
        report.power = power.and_then(|power| serde_json::to_value(power).ok());
        self.print(&terminal::details(&report.checks, self.look));
        self.print(&terminal::skips(&report.checks, self.look));
        if let Some(power) = power {
            self.print(&format!("\n{}", power::text(power, self.look.width)));
        }
        self.print(&terminal::summary(report.counts));
        self.reporting.write(&report, results)?;
        Ok(if report.is_failure() {
            Outcome::Violated
        } else {
            Outcome::Done
        })
    }
}

impl Onlooker for Telling<'_> {
    fn one_more(&mut self) {
        self.progress.one_more();
    }

    fn result(&mut self, result: &CheckResult) {
        let line = self.lines.next(&self.report_of(result));
        self.print(&line);
    }
}
