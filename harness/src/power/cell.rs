//! What a battery holds.

use super::builtin;
use super::error::PowerError;
use super::figure::sheet;
use super::file::Section;
use super::units::{MilliampHours, Milliamps};

sheet! {
    /// Is a rechargeable cell.
    Cell {
        capacity: "capacity-milliamp-hours", 1.0 to 1_000_000.0 "mAh", "what is printed on it";
        usable: "usable-percent", 1.0 to 100.0 "%", "how much of that can be had: regulator drop-out, ageing, cold";
        self_discharge: "self-discharge-percent-per-month", 0.0 to 50.0 "% a month", "what it loses by itself";
    }
}

/// A mean month: 365.25 days of 24 h, a twelfth of it.
const HOURS_PER_MONTH: f64 = 365.25 * 24.0 / 12.0;

impl Cell {
    /// Gives a built-in cell.
    ///
    /// # Errors
    /// [`PowerError::UnknownName`], with the nearest name there is.
    pub fn builtin(name: &str) -> Result<Self, PowerError> {
        builtin::cell(name)
    }

    /// Lists the names of the built-in cells.
    pub fn names() -> Vec<&'static str> {
        builtin::cell_names()
    }

    /// Reads the `[cell]` of a file; `file` is its name for messages.
    ///
    /// A `[board]` may stand beside it and is not looked into.
    ///
    /// # Errors
    /// As [`super::Board::parse`].
    pub fn parse(file: &str, text: &str) -> Result<Self, PowerError> {
        let section = Section::read(file, text, "cell")?;
        let base = section.like(Self::builtin)?;
        let is_whole = base.is_some();
        let mut cell = base.unwrap_or_else(|| builtin::any_cell(0.0));
        cell.name = section.name()?.into();
        for (key, figure) in section.figures(Self::KEYS, is_whole)? {
            if let Some(place) = cell.figure_mut(key) {
                *place = figure;
            }
        }
        Ok(cell)
    }

    /// What can be spent: eta Q.
    pub(super) fn usable(&self) -> MilliampHours {
        MilliampHours(self.capacity.value * self.usable.value / 100.0)
    }

    /// Self-discharge as if it were a current.
    pub(super) fn self_discharge(&self) -> Milliamps {
        let per_month = self.capacity.value * self.self_discharge.value / 100.0;
        Milliamps(per_month / HOURS_PER_MONTH)
    }
}
