//! Gives the words of a line their meaning: what a printer shall do, in millimetres, seconds and degrees Celsius.
//!
//! It owns the modal state (units, distance modes, feed, position, offsets) and nothing about time.
//!
//! A line is carried out whole or not at all: a fault leaves the state as it was before the line.
//!
//! # Source
//! NISTIR 6556 for G0 to G4, G20, G21, G90 to G92, M0 to M2, M30, modal groups and the order of execution within a
//! line (from memory); common practice for E, G28 as a drive to the end switches and the M codes of heaters and fan.

mod arc;
mod code;
mod command;
mod error;
mod ignored;
mod interpret;
mod modal;
mod options;
mod statement;

pub use arc::Arc;
pub use command::{Command, Move, MoveKind, Path, Position};
pub use error::{CodeFault, CodeName};
pub use ignored::{IgnoredCode, IgnoredCodes};
pub use interpret::Interpreter;
pub use options::{DwellUnit, InterpreterOptions, MaterialMode, OptionalLines, RapidSpeed};
