//! A log that is read back.

use std::io::{self, BufRead};

use super::{Entry, LogHeader};

/// The most bytes a line may have.
///
/// Chosen: a change comes in a request of at most 64 KiB, and is written about as long.
const MOST_LINE_BYTES: u64 = 1 << 20;

/// Is a log that was read: what the run was a run of, and its changes in order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct LoggedRun {
    /// What the run was a run of.
    pub header: LogHeader,
    /// The changes; those of the same moment in the order in which they were made.
    pub entries: Vec<Entry>,
}

/// Says why something is no log.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// It cannot be read.
    #[error("the log cannot be read")]
    Read(#[from] io::Error),
    /// It has no line.
    #[error("the log is empty [its first line names scenario, seed and dialect]")]
    Empty,
    /// A line is not what it should be.
    #[error("line {line} of the log is wrong: {problem}")]
    Line {
        /// The line, counted from 1.
        line: usize,
        /// What is wrong with it.
        problem: String,
    },
    /// It is of another version of the format.
    #[error(
        "the log has format {found}; this program reads {}",
        LogHeader::VERSION
    )]
    Version {
        /// The version it has.
        found: u32,
    },
    /// Its beginning is no longer there.
    #[error("the first {forgotten} entries of the log are missing [log to a file to keep all]")]
    Forgotten {
        /// How many.
        forgotten: u64,
    },
}

impl LoggedRun {
    /// Reads a log: JSON Lines, the header first.
    ///
    /// # Errors
    /// [`LogError`].
    pub fn read(text: impl BufRead) -> Result<Self, LogError> {
        let mut lines = Lines { text, read: 0 };
        let first = lines.next()?.ok_or(LogError::Empty)?;
        let header: LogHeader = lines.parse(&first)?;
        if header.coldbed_log != LogHeader::VERSION {
            let found = header.coldbed_log;
            return Err(LogError::Version { found });
        }
        if header.forgotten > 0 {
            let forgotten = header.forgotten;
            return Err(LogError::Forgotten { forgotten });
        }
        let mut entries = Vec::new();
        while let Some(line) = lines.next()? {
            let entry: Entry = lines.parse(&line)?;
            entries.push(entry);
        }
        entries.sort_by_key(|entry| (entry.at, entry.number));
        Ok(Self { header, entries })
    }
}

struct Lines<R> {
    text: R,
    read: usize,
}

impl<R: BufRead> Lines<R> {
    /// Gives the next line that has something in it.
    fn next(&mut self) -> Result<Option<String>, LogError> {
        loop {
            let mut line = String::new();
            let length = io::Read::take(&mut self.text, MOST_LINE_BYTES).read_line(&mut line)?;
            if length == 0 {
                return Ok(None);
            }
            self.read += 1;
            if length as u64 == MOST_LINE_BYTES {
                return Err(self.wrong("it is longer than 1 MiB"));
            }
            if !line.trim().is_empty() {
                return Ok(Some(line));
            }
        }
    }

    fn parse<T: serde::de::DeserializeOwned>(&self, line: &str) -> Result<T, LogError> {
        let mut json = serde_json::Deserializer::from_str(line);
        let read = serde_path_to_error::deserialize(&mut json).map_err(|error| error.to_string());
        let value = read.map_err(|problem| self.wrong(problem))?;
        json.end().map_err(|error| self.wrong(error.to_string()))?;
        Ok(value)
    }

    fn wrong(&self, problem: impl Into<String>) -> LogError {
        LogError::Line {
            line: self.read,
            problem: problem.into(),
        }
    }
}
