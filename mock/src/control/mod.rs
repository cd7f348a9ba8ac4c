//! What is changed of a running mock from outside, as data.
//!
//! Owns: the changes ([`Change`]), the file they are logged in ([`LogHeader`], [`Entry`],
//! [`LoggedRun`]), what of a request may be shown (`redact`), the exchanges remembered
//! ([`Exchange`]), and which requests are let in (`gate`).
//! Does not own: sockets, a clock, and carrying changes out; [`crate::server::Control`] does.

mod change;
mod exchange;
mod exchanges;
mod gate;
mod jump;
mod logged_run;
mod moment;
mod redact;

pub use change::{Change, ClockChange, Entry, LogHeader};
pub use exchange::{Excerpt, Exchange, Outcome, Pushed};
pub(crate) use exchanges::{Answered, Asked, Exchanges};
pub(crate) use gate::{Gate, TurnedAway};
pub use jump::Jump;
pub use logged_run::{LogError, LoggedRun};
pub(crate) use moment::words;
pub(crate) use redact::Redaction;

#[cfg(test)]
mod tests;
