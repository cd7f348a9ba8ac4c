//! A line in, claims out.
//!
//! Pure: no process, no stream, no clock. A [`Form`] says how the lines of one watcher are
//! understood; a [`Reader`] reads them with it one after the other and keeps what stands; a [`Reading`]
//! tells what was understood of a line, and what was not and why.

mod quantity;
mod raw;
mod reader;
mod reading;
mod rule;
mod unit;
mod words;

#[cfg(test)]
mod tests;

pub(crate) use quantity::Quantity;
pub(super) use raw::{Raw, Word};
pub(crate) use reader::Form;
pub(crate) use reader::Reader;
pub(super) use reader::{Lines, Missing};
pub(crate) use reading::{Finding, Reading, Said};
pub(super) use rule::{Kind, Rule, groups_of};
pub(super) use unit::Unit;
pub(super) use words::{PhaseWords, SwitchWords};
