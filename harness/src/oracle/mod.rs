//! Oracles: pure functions from what was observed to a verdict.
//!
//! Each is named `verify_…` and returns what was allowed, what was observed and when. None of them
//! starts, sends or waits for anything. [`growth`] is a measure that such a judgment rests on.

mod claims;
mod commands;
mod drift;
mod finish;
mod frozen;
mod general;
pub mod growth;
mod harm;
mod likeness;
mod outage;
mod safe;
mod secrecy;
mod sleep;
mod subject;
mod timing;
mod trace;
mod verdict;
mod words;

pub use claims::{
    Quantity, verify_actual_temperatures, verify_all_claims, verify_heaters,
    verify_heaters_and_phases, verify_job_numbers, verify_number, verify_on, verify_phases,
    verify_target_temperatures, verify_unknown_stays_unknown,
};
pub use commands::verify_command_once;
pub use drift::{Tried, verify_drifts};
pub use finish::verify_finish_noticed;
pub use frozen::{verify_frozen_noticed, verify_never_backwards};
pub use general::verify_general;
pub(crate) use general::{calm, has_recovered};
pub use harm::{Harm, harm};
pub use outage::{
    Owed, stream_timing, verify_fault, verify_outage, verify_short_length, verify_stream_outage,
    verify_unasked_not_modified,
};
pub use safe::verify_safe;
pub use secrecy::verify_key_not_in_url;
pub use sleep::{UnderWay, verify_finish_after_waking, verify_waking};
pub use timing::Timing;
pub(crate) use trace::has_happened;
pub use trace::{Served, Trace, Trial};
pub use verdict::{Verdict, Violation};
pub use words::{verify_job_names, verify_reasons};

#[cfg(test)]
mod model;
#[cfg(test)]
mod tests;
