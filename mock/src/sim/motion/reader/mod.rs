//! Reads a part program line by line into blocks of words, by the published line grammar.
//!
//! The reader is our own because the maintained crate looked at (`gcode` 0.7) reads another grammar: it wants the
//! whole text in memory as UTF-8, takes no spaces inside numbers, nests comments and lets them run over line ends,
//! and checks neither the digits of line numbers nor the length of lines, nor does it give columns.
//!
//! Memory is one line, however long the program; a line longer than allowed is read over, not kept.
//!
//! # Source
//! The NIST RS274/NGC Interpreter, Version 3 (NISTIR 6556, 2000), format of a line. What differs, and why:
//! - a comment from `;` to the end of the line is a later habit (common practice), so its length is free;
//! - E is a word letter like others (common practice: the material axis);
//! - a letter without a number may be let through for codes that name axes only (common practice, `G28 X`);
//! - parameters and expressions (`#`, `[`) are refused: print programs do not use them.

mod block;
mod error;
mod line;
mod number;
mod stream;

pub use block::{Block, Word};
pub use error::{BrokenLine, LineFault, ReadError};
pub use line::{BareLetters, MAX_LINE_CHARACTERS, MAX_LINE_NUMBER_DIGITS};
pub use stream::ProgramReader;
