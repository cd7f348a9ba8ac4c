//! Lets a planner read lines that were never in a file.

use std::io::{self, BufRead, Read};

/// Joins lines to a text that can be read, one line in memory at a time.
#[derive(Debug)]
pub struct ProgramText<I> {
    lines: I,
    line: Vec<u8>,
    read: usize,
}

impl<I: Iterator<Item = String>> ProgramText<I> {
    /// Starts before the first line. Each line gets an end.
    pub fn new(lines: I) -> Self {
        Self {
            lines,
            line: Vec::new(),
            read: 0,
        }
    }
}

impl<I: Iterator<Item = String>> BufRead for ProgramText<I> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.read == self.line.len()
            && let Some(next) = self.lines.next()
        {
            self.line.clear();
            self.line.extend_from_slice(next.as_bytes());
            self.line.push(b'\n');
            self.read = 0;
        }
        Ok(&self.line[self.read..])
    }

    fn consume(&mut self, amount: usize) {
        self.read = (self.read + amount).min(self.line.len());
    }
}

impl<I: Iterator<Item = String>> Read for ProgramText<I> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.fill_buf()?.read(buffer)?;
        self.consume(count);
        Ok(count)
    }
}
