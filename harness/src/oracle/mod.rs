//! Oracles: pure functions from what was observed to a verdict.
//!
//! Each is named `verify_…` and returns what was allowed, what was observed and when. None of them
//! starts, sends or waits for anything. [`growth`] is a measure that such a judgment rests on.

mod asked;
mod claims;
mod commands;
mod conditional;
mod connections;
mod drift;
mod endurance;
mod finish;
mod frozen;
mod general;
pub mod growth;
mod harm;
mod herd;
mod likeness;
mod outage;
mod recorded;
mod retry_after;
mod safe;
mod secrecy;
mod sleep;
mod subject;
mod thrift;
mod timing;
mod trace;
mod unread;
mod unsafe_retry;
mod verdict;
mod while_down;
mod words;

pub use claims::{
    Quantity, verify_actual_temperatures, verify_all_claims, verify_heaters,
    verify_heaters_and_phases, verify_job_numbers, verify_number, verify_on, verify_phases,
    verify_target_temperatures, verify_unknown_stays_unknown,
};
pub use commands::verify_command_once;
pub use conditional::{verify_asks_conditionally, verify_not_modified};
pub use connections::verify_connections_do_not_pile_up;
pub use drift::{Tried, verify_drifts};
pub use endurance::{
    verify_memory_does_not_grow, verify_open_files_do_not_grow,
    verify_open_files_do_not_grow_with_failures,
};
pub use finish::verify_finish_noticed;
pub use frozen::{verify_frozen_noticed, verify_never_backwards};
pub use general::verify_general;
pub(crate) use general::{calm, has_recovered};
pub use harm::{Harm, harm};
pub use herd::verify_no_herd;
pub use outage::{
    Owed, stream_timing, verify_fault, verify_outage, verify_short_length, verify_stream_outage,
    verify_unasked_not_modified,
};
pub(crate) use recorded::Hears;
pub use recorded::{
    verify_followed, verify_old_data_falls, verify_recorded_heaters, verify_recorded_job,
    verify_recorded_phases,
};
pub use retry_after::{YEAR_ENDS_WITHIN, verify_retry_after, verify_sleeps_no_year};
pub use safe::verify_safe;
pub(crate) use secrecy::NO_TLS;
pub use secrecy::{
    verify_certificate_checked, verify_key_not_in_url, verify_key_not_printed,
    verify_key_not_sent_elsewhere, verify_tls_end_is_harmless,
};
pub use sleep::{UnderWay, verify_finish_after_waking, verify_waking};
pub use thrift::{verify_asks_no_more_than, verify_says_who_asks};
pub use timing::Timing;
pub(crate) use trace::has_happened;
pub use trace::{Served, Trace, Trial};
pub use unread::with_unread_lines;
pub use unsafe_retry::verify_nothing_unsafe_retried;
pub use verdict::{Verdict, Violation};
pub use while_down::{verify_asks_again, verify_backs_off, verify_no_hammering};
pub use words::{verify_job_names, verify_reasons};

#[cfg(test)]
mod model;
#[cfg(test)]
mod tests;
