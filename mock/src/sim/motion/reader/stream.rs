//! Streams blocks out of a buffered input.

use std::io::{self, BufRead, Read};

use super::block::{Block, Word};
use super::error::{BrokenLine, ReadError};
use super::line::{BareLetters, Line, MAX_LINE_CHARACTERS, read_line};

/// How much of a line is kept: enough to see whether its 257th character is code, and a `\r\n`.
const KEPT_BYTES: usize = MAX_LINE_CHARACTERS + 3;

/// Reads a program from any buffered input, one line in memory at a time.
#[derive(Debug)]
pub struct ProgramReader<R> {
    input: R,
    bare: BareLetters,
    kept: Vec<u8>,
    words: Vec<Word>,
    line: u64,
    byte: u64,
    stage: Stage,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    /// Nothing but blank lines and comments so far, so a `%` marks the start.
    Before,
    Within,
    After,
}

impl<R: BufRead> ProgramReader<R> {
    /// Starts at the input's present place, which counts as byte 0 of line 1.
    pub fn new(input: R, bare: BareLetters) -> Self {
        let (kept, words) = (Vec::with_capacity(KEPT_BYTES), Vec::with_capacity(16));
        Self {
            input,
            bare,
            kept,
            words,
            line: 0,
            byte: 0,
            stage: Stage::Before,
        }
    }

    /// Gives the next line that has words; blank lines and comments are read over.
    ///
    /// None at the input's end, or at the `%` that ends a program. After an error about a line the next call goes on
    /// with the line after it.
    ///
    /// # Errors
    /// [`ReadError::Input`] if the input fails, [`ReadError::Line`] if a line departs from the grammar.
    pub fn next_block(&mut self) -> Result<Option<Block<'_>>, ReadError> {
        while self.stage != Stage::After {
            let start_byte = self.byte;
            if !self.fetch_line()? {
                self.stage = Stage::After;
                break;
            }
            let found = read_line(&self.kept, self.bare, &mut self.words);
            let first = self.stage == Stage::Before;
            match found {
                Ok(Line::Words { .. }) if self.words.is_empty() => {}
                Ok(Line::Words { number, optional }) => {
                    self.stage = Stage::Within;
                    let (line, end_byte) = (self.line, self.byte);
                    return Ok(Some(Block {
                        line,
                        start_byte,
                        end_byte,
                        number,
                        optional,
                        words: &self.words,
                    }));
                }
                Ok(Line::Mark) => self.stage = if first { Stage::Within } else { Stage::After },
                Err((at, fault)) => {
                    self.stage = Stage::Within;
                    let column = u32::try_from(at + 1).unwrap_or(u32::MAX);
                    return Err(BrokenLine {
                        line: self.line,
                        column,
                        fault,
                    }
                    .into());
                }
            }
        }
        Ok(None)
    }

    /// Counts the bytes read so far, line ends included.
    pub fn bytes_read(&self) -> u64 {
        self.byte
    }

    /// Counts the lines read so far, blank ones included.
    pub fn lines_read(&self) -> u64 {
        self.line
    }

    /// Reads the next line into `kept`, without its end and cut where no more is needed to judge it.
    fn fetch_line(&mut self) -> io::Result<bool> {
        self.kept.clear();
        let mut taken = self
            .input
            .by_ref()
            .take(KEPT_BYTES as u64)
            .read_until(b'\n', &mut self.kept)?;
        if taken == 0 {
            return Ok(false);
        }
        if self.kept.last() == Some(&b'\n') {
            self.kept.pop();
            if self.kept.last() == Some(&b'\r') {
                self.kept.pop();
            }
        } else if taken == KEPT_BYTES {
            taken += self.input.skip_until(b'\n')?;
        }
        self.line += 1;
        self.byte += taken as u64;
        Ok(true)
    }
}
