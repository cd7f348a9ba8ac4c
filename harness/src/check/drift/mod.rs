//! Bodies that differ from what the watcher's author saw: each kind of drift by itself, at each place
//! that what the watcher reports is read from.
//!
//! A change of the unit has no check. Who is shown 0.5 where 50 was meant sees a number that may well
//! be true; only one that cannot be is asked to be doubted (`impossible-value-not-shown`).

mod breaking;
mod compatible;
mod corpus;
mod hostile;
mod scene;
mod spots;
mod trial;

#[cfg(test)]
mod tests;

use super::{Area, Check, Context, Field, Level, NotPlanned, Plan, Step};

/// Gives the checks of the area.
pub(super) fn checks() -> Vec<Check> {
    [
        compatible::CHECKS,
        breaking::CHECKS,
        hostile::CHECKS,
        corpus::CHECKS,
    ]
    .concat()
}

/// What all checks of the area share.
const DRIFT: Check = Check {
    id: "",
    area: Area::Drift,
    level: Level::Must,
    requirement: "",
    source: "",
    provoked: "",
    judged: "",
    scenario: scene::SCENARIO,
    needs: Field::Anything,
    plan: |_| Ok(Plan::default()),
    oracle: |trace, _| crate::oracle::verify_all_claims(trace),
};

/// How a compatible drift is judged.
const STILL_RIGHT: &str = "while it lasts each claim is true of what was served within the allowed window, and \
     nothing that was known before turns unknown; what holds when it is over, too";

/// How a breaking drift is judged.
const RIGHT_OR_UNKNOWN: &str = "everything was another value before: within the measured rhythm each claim is \
     true of the printer as it now is, or unknown; never the value from before, never a third one; and once it \
     is over the watcher knows again";

/// How a hostile drift is judged.
const SURVIVED: &str = "the watcher lives, goes on asking, claims only what is true of the printer as it now is \
     or that it does not know, and knows again once it is over";

/// Writes a check whose trials are given by a function.
macro_rules! drift_check {
    ($id:literal, $trials:path, $requirement:literal, $source:literal, $provoked:literal, $judged:expr) => {
        $crate::check::Check {
            id: $id,
            requirement: $requirement,
            source: $source,
            provoked: $provoked,
            judged: $judged,
            plan: |context| super::trial::plan(context, $trials),
            oracle: |trace, context| super::trial::judge(trace, context, $trials),
            ..super::DRIFT
        }
    };
}
use drift_check;
