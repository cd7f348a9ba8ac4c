//! Results for people and for machines.
//!
//! Owns: the [`Report`], a value that holds all there is to say of a run of checks; its forms for a
//! terminal, as JSON, JUnit XML, TAP and a page of HTML; what a [`Baseline`] says of it. Does not own:
//! the judging, files, the command line.

mod baseline;
mod format;
pub mod html;
mod junit;
mod legible;
mod model;
mod tap;
pub mod terminal;
#[cfg(test)]
mod tests;

pub use baseline::{Baseline, BaselineError};
pub use format::{Format, Target, Wanted, WantedError};
pub use junit::{JunitError, junit};
pub use model::{
    AttemptReport, AttemptVerdict, CalibrationReport, CheckReport, Counts, OutcomeWord, Report,
    ReportHead, Standing, Verdict, ViolationReport, schema,
};
pub use tap::tap;

/// Writes the report as JSON, with a line's end.
pub fn json(report: &Report) -> String {
    // Only maps with keys that are no text cannot be written, and there is none.
    let text = serde_json::to_string_pretty(report).unwrap_or_default();
    text + "\n"
}
