//! The control API: a running mock is read and changed from outside, and every change is logged.
//!
//! Owns: the changes as functions ([`Control`]), their log, what is remembered of the wire, the
//! replay of a log, and the HTTP listener ([`http`]).
//! Does not own: what a change is and how it is written ([`crate::control`]).
//!
//! Locks are taken in this order: desk, printer, log; the book's is taken alone.

mod book;
mod change_log;
mod control_error;
mod desk;
mod handle;
mod http;
mod items;
mod options;
mod planned;
mod prepared;
mod replay;

pub use control_error::ControlError;
pub use handle::{ClockReading, ClockSetting, Control, Issued};
pub use items::{OpenConnection, ShownDrift, ShownFault};
pub use options::{ControlOptions, LogFile};
pub use replay::ReplayError;

pub(super) use change_log::ChangeLog;
pub(super) use desk::Desk;
pub(super) use http::ControlListener;
pub(super) use planned::{Planned, PlannedChange};
pub(super) use prepared::{Opened, Prepared};
