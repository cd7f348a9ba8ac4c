//! Telling the truth: phases, temperatures, targets, numbers, words, the finish.

mod heaters;
mod numbers;
mod phases;
mod words;

use std::time::Duration;

use super::{Area, Check, Context, Field, Level, NotPlanned, Plan, Step, episodes};

/// Gives the checks of the area.
pub(super) fn checks() -> Vec<Check> {
    [
        phases::CHECKS,
        heaters::CHECKS,
        numbers::CHECKS,
        words::CHECKS,
    ]
    .concat()
}

/// What most checks of the area share.
const TELLING: Check = Check {
    id: "",
    area: Area::Telling,
    level: Level::Must,
    requirement: "",
    source: "common practice",
    provoked: "the parts of the scenario that matter are visited, each for some answers",
    judged: "each claim is held against the answers served within the allowed window",
    scenario: "heat-up",
    needs: Field::Anything,
    plan: |_| Ok(Plan::default()),
    oracle: |trace, _| crate::oracle::verify_all_claims(trace),
};

const fn seconds(seconds: u64) -> Duration {
    Duration::from_secs(seconds)
}
