//! What is judged on a recorded session instead of the catalogue: there is no printer that could be made
//! to do something, only what its host said that night.

use super::{Area, Check, Context, Field, Level, NotPlanned, Plan};
use crate::oracle::{self, Trace};

/// Gives the checks on a session, in the order of reports.
pub fn recorded() -> &'static [Check] {
    RECORDED
}

const RECORDED: &[Check] = &[
    Check {
        id: "session-not-followed",
        requirement: "the watcher follows the session to its end: it does not end by itself, goes on asking, and claims something",
        judged: "its process, its requests and its claims until all recorded answers are given",
        needs: Field::Nothing,
        oracle: |trace, _| oracle::verify_followed(trace),
        ..ON_SESSION
    },
    Check {
        id: "session-phase-misread",
        requirement: "the phase claimed is the one that the recorded answers show, and unknown where they show none",
        judged: "each claim is held against what the dialect reads in the answers of the allowed window, or what the user expects of them",
        needs: Field::Phase,
        oracle: |trace, _| oracle::verify_recorded_phases(trace),
        ..ON_SESSION
    },
    Check {
        id: "session-heater-misread",
        requirement: "temperatures, targets and on or off of each heater are those of the recorded answers, and unknown where these have none",
        judged: "each claim is held against what the dialect reads in the answers of the allowed window, or what the user expects of them",
        needs: Field::Anything,
        oracle: |trace, _| oracle::verify_recorded_heaters(trace),
        ..ON_SESSION
    },
    Check {
        id: "session-job-misread",
        requirement: "progress, elapsed and remaining time and the job's name are those of the recorded answers, and unknown where these have none",
        judged: "each claim is held against what the dialect reads in the answers of the allowed window, or what the user expects of them",
        needs: Field::Anything,
        oracle: |trace, _| oracle::verify_recorded_job(trace),
        ..ON_SESSION
    },
    Check {
        id: "session-old-data-shown",
        requirement: "where the recorded host gave no usable answer any more, what it had said is no longer shown as live",
        judged: "claims after the last usable answer, beyond what a poll and a failure may take; a status other than 200 and 304, an answer that is cut or no JSON, and none at all are not usable",
        needs: Field::Anything,
        oracle: |trace, _| oracle::verify_old_data_falls(trace),
        ..ON_SESSION
    },
];

const ON_SESSION: Check = Check {
    id: "",
    area: Area::Telling,
    level: Level::Must,
    requirement: "",
    source: "common practice: what failed in the field once is tried again before each release",
    provoked: "the session is played, answer by answer",
    judged: "",
    scenario: "",
    needs: Field::Nothing,
    plan: no_plan,
    oracle: |_: &Trace<'_>, _: &Context| crate::oracle::Verdict::NotJudged {
        reason: String::new(),
    },
};

fn no_plan(_: &Context) -> Result<Plan, NotPlanned> {
    Err(NotPlanned(
        "it is judged on a recorded session only".to_owned(),
    ))
}
