//! Shapes of what a line holds.

/// Holds one address letter with its number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Word {
    /// The letter, always a capital `A` to `Z`.
    pub letter: u8,
    /// The number, or none where only the letter was written.
    pub value: Option<f64>,
    /// The column of the letter, counted in bytes from 1.
    pub column: u32,
}

/// Holds one line that has at least one word, with its place in the program.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Block<'a> {
    /// The line counted from 1 (not the number that the program gives it).
    pub line: u64,
    /// Bytes of the program before this line.
    pub start_byte: u64,
    /// Bytes of the program up to and with this line's end.
    pub end_byte: u64,
    /// The number that the program gives the line, if any.
    pub number: Option<u32>,
    /// Whether the line starts with `/` and so is left out while block delete is on.
    pub optional: bool,
    /// The words in the order written; never empty.
    pub words: &'a [Word],
}
