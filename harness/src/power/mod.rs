//! An estimate of what a watcher's traffic costs a battery: a report, no verdict.
//!
//! A [`Traffic`] says what was seen of the watcher on the wire, a [`Board`] what the parts of a poll
//! cost in current and time, a [`Cell`] what there is to spend. [`estimate()`] puts them together for
//! two ways to live: staying joined to the access point, and sleeping deeply between polls.
//!
//! It measures nothing. The figures are those of data sheets and of common practice, each with its
//! source and a [`Mark`]; a board on a bench with a meter is another thing.

mod board;
mod builtin;
mod cell;
mod error;
mod estimate;
mod figure;
mod file;
mod formula;
mod text;
mod traffic;
mod units;

pub use board::Board;
pub use cell::Cell;
pub use error::PowerError;
pub use estimate::{PerHour, PeriodLife, PowerEstimate, Warning, Way, estimate};
pub use figure::{Figure, Key, Mark};
pub use formula::CrossOver;
pub use text::text;
pub use traffic::Traffic;
pub use units::{Hours, MilliampHours, Milliamps, Seconds};

#[cfg(test)]
mod tests;
