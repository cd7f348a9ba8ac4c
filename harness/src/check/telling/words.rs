//! The job's name, and why the printer does not print.

use super::{Check, Context, Field, Plan, Step, TELLING, episodes, seconds};
use crate::oracle;
use coldbed_mock::sim::Phase;

pub(super) const CHECKS: &[Check] = &[
    Check {
        id: "job-name-in-any-script",
        requirement: "the job's name is shown as it is served, in whatever script it is written",
        source: "RFC 8259 section 8.1 (UTF-8) and section 7 (escapes)",
        provoked: "short jobs follow each other whose names are in several scripts, with signs beyond the first plane, with quotes, backslashes and markup",
        judged: "each name claimed is one that was served within the allowed window; composed and decomposed letters count as the same (Unicode Standard Annex 15, NFC)",
        scenario: "names",
        needs: Field::JobName,
        plan: |context| Ok(each_job(context)),
        oracle: |trace, _| oracle::verify_job_names(trace),
        ..TELLING
    },
    Check {
        id: "error-without-its-reason",
        requirement: "why the printer is in error or stands still is told by a reason that was served",
        source: "RFC 8011 section 5.4.12 (printer-state-reasons)",
        provoked: "a printer is visited before, at and after the trip of its thermal protection",
        judged: "while the phase is error or paused the reason claimed has one of the served keywords in it, with or without the severity at its end",
        scenario: "error",
        needs: Field::Reason,
        plan: |context| Ok(Plan::each_phase(&context.scenario)),
        oracle: |trace, _| oracle::verify_reasons(trace),
        ..TELLING
    },
];

/// Visits each job while it prints.
fn each_job(context: &Context) -> Plan {
    let printing = episodes(&context.scenario, 1)
        .into_iter()
        .filter(|episode| episode.phase == Phase::Printing);
    Plan::of(printing.map(|episode| Step::Visit {
        from: Some(episode.from.start()),
        per_poll: seconds(2),
        answers: 2,
    }))
}
