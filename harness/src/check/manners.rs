//! What a watcher owes its host and its network.

mod asked_to_wait;
mod asking;
mod while_down;

pub(super) use asked_to_wait::ASKED_TO_WAIT;
pub(super) use asking::ASKING;
pub(super) use while_down::WHILE_DOWN;

use super::{Area, Check, Context, Field, Level, Plan, Step};
use crate::oracle::{Trace, Verdict};
use coldbed_mock::sim::VirtualTime;
use std::time::Duration;

/// Is what most of these rules have in common: they are about requests, so nothing has to be reported.
const MANNERS: Check = Check {
    id: "",
    area: Area::Manners,
    level: Level::Should,
    requirement: "",
    source: "",
    provoked: "",
    judged: "",
    scenario: "heat-up",
    needs: Field::Nothing,
    plan: |_| Ok(Plan::default()),
    oracle: |_: &Trace<'_>, _: &Context| Verdict::NotJudged {
        reason: String::new(),
    },
};

/// Lets the watcher see an ordinary print for so many answers, from ten minutes on.
const fn as_usual(answers: usize) -> Step {
    Step::Visit {
        from: Some(VirtualTime::new(Duration::from_secs(600))),
        per_poll: Duration::from_secs(2),
        answers,
    }
}
