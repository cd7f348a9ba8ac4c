//! What can be wrong with a line, and where.

use std::fmt;
use std::io;

use thiserror::Error;

use super::line::{MAX_LINE_CHARACTERS, MAX_LINE_NUMBER_DIGITS, MAX_M_WORDS};

/// Places a fault in the program.
///
/// Generic because the interpreter places its own faults the same way.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("line {line}, column {column}: {fault}")]
pub struct BrokenLine<F: fmt::Display + fmt::Debug> {
    /// The line counted from 1.
    pub line: u64,
    /// The column counted in bytes from 1.
    pub column: u32,
    /// What was wrong there.
    pub fault: F,
}

/// Says how a line departs from the grammar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum LineFault {
    /// More characters than a line may have, the end of line and a `;` comment not counted.
    #[error(
        "line has more than {MAX_LINE_CHARACTERS} characters (a comment after `;` is not counted)"
    )]
    TooLong,
    /// A character that starts nothing.
    #[error("unexpected {}", ShownByte(*.0))]
    Unexpected(u8),
    /// A sign or point without any digit.
    #[error("number after `{}` has no digit", char::from(*.letter))]
    NoDigit {
        /// The word's letter.
        letter: u8,
    },
    /// A letter without a number while those are refused.
    #[error("no number after `{}`", char::from(*.letter))]
    NoNumber {
        /// The word's letter.
        letter: u8,
    },
    /// A parameter or an expression where a number is expected.
    #[error("parameters and expressions are not carried out (found `{}`)", char::from(*.0))]
    Expression(u8),
    /// A `(` without its `)`.
    #[error("comment is not closed on its line")]
    CommentOpen,
    /// A `(` within a comment.
    #[error("comment within a comment")]
    CommentNested,
    /// A control character within a comment.
    #[error("comment holds {} (printable characters, space and tab are allowed)", ShownByte(*.0))]
    CommentUnprintable(u8),
    /// An N without a whole number.
    #[error("line number has no digit")]
    LineNumberMissing,
    /// An N with too many digits.
    #[error("line number has more than {MAX_LINE_NUMBER_DIGITS} digits")]
    LineNumberTooLong,
    /// An N after other words.
    #[error("line number is not the first word of its line")]
    LineNumberLate,
    /// A letter other than G and M twice on one line.
    #[error("letter `{}` appears twice on the line", char::from(*.letter))]
    LetterTwice {
        /// The letter.
        letter: u8,
    },
    /// Too many M words.
    #[error("more than {MAX_M_WORDS} M words on the line")]
    TooManyMWords,
}

/// Says why no further block could be had.
#[derive(Debug, Error)]
pub enum ReadError {
    /// The input itself failed.
    #[error("program could not be read")]
    Input(#[from] io::Error),
    /// A line departs from the grammar; the reader can go on with the next one.
    #[error(transparent)]
    Line(#[from] BrokenLine<LineFault>),
}

/// Shows a byte as the character it is, or by its number where it is none of ASCII's.
struct ShownByte(u8);

impl fmt::Display for ShownByte {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.is_ascii_graphic() {
            write!(f, "`{}`", char::from(self.0))
        } else {
            write!(f, "byte 0x{:02x}", self.0)
        }
    }
}
