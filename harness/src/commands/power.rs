//! The power estimate of `coldbed check`.

use std::path::Path;

use super::Failure;
use crate::power::{self, Board, Cell, PowerError, PowerEstimate, Traffic};

/// Is what an estimate is made for.
pub(super) struct Supply {
    board: Board,
    cell: Cell,
}

impl Supply {
    /// Reads both, by name or from a file; `None` if no board is asked for.
    pub(super) fn read(board: Option<&str>, cell: &str) -> Result<Option<Self>, Failure> {
        let Some(board) = board else {
            return Ok(None);
        };
        Ok(Some(Self {
            board: named(board, Board::builtin, Board::parse)?,
            cell: named(cell, Cell::builtin, Cell::parse)?,
        }))
    }

    /// Estimates what was seen on the wire.
    pub(super) fn estimate(&self, traffic: &Traffic) -> PowerEstimate {
        power::estimate(traffic, &self.board, &self.cell)
    }
}

/// Takes a built-in one of that name, or else a file.
fn named<T>(
    name: &str,
    builtin: fn(&str) -> Result<T, PowerError>,
    parse: fn(&str, &str) -> Result<T, PowerError>,
) -> Result<T, Failure> {
    if !Path::new(name).exists() && !name.contains(['/', '.']) {
        return builtin(name).map_err(Failure::bad_input);
    }
    let text = std::fs::read_to_string(name)
        .map_err(|error| Failure::bad_input(format!("cannot read `{name}`: {error}")))?;
    parse(name, &text).map_err(Failure::bad_input)
}
