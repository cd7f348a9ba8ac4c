//! The area's plans, and its verdicts about watchers that are a function each.

mod judged;
mod plans;
mod rehearsal;
