//! The file under way.
#![expect(
    clippy::disallowed_methods,
    reason = "lines are stamped with real time here"
)]

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use super::disk::free_bytes;
use super::options::{Filter, Limits};
use crate::format::{End, Line};

/// Counts what was recorded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// Connections of the watcher.
    pub connections: u64,
    /// Requests.
    pub exchanges: u64,
    /// Answers that came whole, and streams that were ended.
    pub whole: u64,
    /// Requests that were not passed on.
    pub not_passed_on: u64,
    /// Bytes written.
    pub bytes: u64,
    /// Files written.
    pub files: u64,
}

/// Writes lines, each with one call, to a file that only grows.
pub(super) struct Journal {
    began: Instant,
    inner: Mutex<Inner>,
}

struct Inner {
    name: PathBuf,
    head: Line,
    filter: Option<Filter>,
    limits: Limits,
    /// The last is written to; those before it have exchanges that began in them.
    parts: Vec<Part>,
    open: BTreeMap<u64, Line>,
    counts: Counts,
    looked_at_disk: Instant,
    /// Why nothing more is written.
    stopped: Option<String>,
}

struct Part {
    file: File,
    bytes: u64,
    exchanges: BTreeSet<u64>,
}

/// How often free space is looked at.
const LOOK_EVERY: Duration = Duration::from_secs(1);

impl Journal {
    /// Begins a file that is not there yet.
    pub(super) fn begin(
        name: &Path,
        head: Line,
        filter: Option<Filter>,
        limits: Limits,
    ) -> io::Result<Self> {
        let mut inner = Inner {
            name: name.to_owned(),
            head,
            filter,
            limits,
            parts: Vec::new(),
            open: BTreeMap::new(),
            counts: Counts::default(),
            looked_at_disk: Instant::now(),
            stopped: None,
        };
        if let Some(why) = inner.lacks_room() {
            return Err(io::Error::new(io::ErrorKind::StorageFull, why));
        }
        inner.add_part()?;
        Ok(Self {
            began: Instant::now(),
            inner: Mutex::new(inner),
        })
    }

    /// Gives the time since the session began.
    pub(super) fn now(&self) -> Duration {
        // Whole microseconds, as in the file: a sum of two times is the same there and here.
        let micros = self.began.elapsed().as_micros();
        Duration::from_micros(u64::try_from(micros).unwrap_or(u64::MAX))
    }

    /// Writes a line. Once it is back, a kill of this process loses it no more.
    ///
    /// # Errors
    /// Why nothing can be written any more, now and from now on.
    pub(super) fn write(&self, line: Line) -> Result<(), String> {
        let mut inner = self.inner();
        if let Some(why) = &inner.stopped {
            return Err(why.clone());
        }
        let written = inner.write(line);
        written.map_err(|error| inner.stop(&error))
    }

    /// Forces what was written onto the disk.
    pub(super) fn sync(&self) {
        let files: Vec<_> = self
            .inner()
            .parts
            .iter()
            .filter_map(|part| part.file.try_clone().ok())
            .collect();
        for file in files {
            // What the disk says against it shows at the next write.
            let _ = file.sync_data();
        }
    }

    /// Tells why nothing is written any more.
    pub(super) fn stopped(&self) -> Option<String> {
        self.inner().stopped.clone()
    }

    /// Gives what was recorded so far.
    pub(super) fn counts(&self) -> Counts {
        self.inner().counts
    }

    fn inner(&self) -> MutexGuard<'_, Inner> {
        // A line is written whole or not at all.
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Inner {
    fn write(&mut self, line: Line) -> io::Result<()> {
        if self.looked_at_disk.elapsed() > LOOK_EVERY {
            self.looked_at_disk = Instant::now();
            if let Some(why) = self.lacks_room() {
                return Err(io::Error::new(io::ErrorKind::StorageFull, why));
            }
        }
        let line = match &mut self.filter {
            Some(filter) => filter(line),
            None => line,
        };
        self.count(&line);
        let is_full = |part: &Part, most: u64| part.bytes > most;
        if let (Line::Request { .. }, Some(most)) = (&line, self.limits.max_file_bytes)
            && self.parts.last().is_some_and(|part| is_full(part, most))
        {
            self.add_part()?;
        }
        match &line {
            Line::ConnectionOpened { connection, .. } => {
                self.open.insert(*connection, line.clone());
            }
            Line::ConnectionClosed { connection, .. } => {
                self.open.remove(connection);
            }
            _ => {}
        }
        let syncs = self.limits.syncs_each_answer && line.ends_an_exchange();
        let text = line.text();
        let at = self.part_of(&line);
        let part = &mut self.parts[at];
        part.put(&text)?;
        if syncs {
            part.file.sync_data()?;
        }
        self.counts.bytes += text.len() as u64;
        let last = self.parts.len() - 1;
        if let Some(exchange) = line.exchange() {
            match line.ends_an_exchange() {
                true => self.parts[at].exchanges.remove(&exchange),
                false => self.parts[at].exchanges.insert(exchange),
            };
            if at < last && self.parts[at].exchanges.is_empty() {
                self.parts.remove(at);
            }
        }
        Ok(())
    }

    /// Gives the part that a line belongs in: that in which its exchange began.
    fn part_of(&self, line: &Line) -> usize {
        let began = line.exchange().and_then(|exchange| {
            self.parts
                .iter()
                .position(|part| part.exchanges.contains(&exchange))
        });
        began.unwrap_or(self.parts.len() - 1)
    }

    fn add_part(&mut self) -> io::Result<()> {
        self.counts.files += 1;
        let name = part_name(&self.name, self.counts.files);
        let file = OpenOptions::new()
            .append(true)
            .create_new(true)
            .open(name)?;
        let mut part = Part {
            file,
            bytes: 0,
            exchanges: BTreeSet::new(),
        };
        for line in std::iter::once(&self.head).chain(self.open.values()) {
            part.put(&line.text())?;
        }
        // Those before it live as long as an exchange that began in them.
        self.parts.retain(|part| !part.exchanges.is_empty());
        self.parts.push(part);
        Ok(())
    }

    fn count(&mut self, line: &Line) {
        match line {
            Line::ConnectionOpened { .. } => self.counts.connections += 1,
            Line::Request { .. } => self.counts.exchanges += 1,
            Line::Answer {
                end: End::Complete, ..
            }
            | Line::StreamEnded { .. } => self.counts.whole += 1,
            Line::NoAnswer {
                end: End::NotPassedOn,
                ..
            } => self.counts.not_passed_on += 1,
            _ => {}
        }
    }

    fn lacks_room(&self) -> Option<String> {
        let (free, least) = (free_bytes(&self.name)?, self.limits.min_free_bytes);
        (free < least)
            .then(|| format!("{free} bytes are free on the disk, less than the {least} to be left"))
    }

    fn stop(&mut self, error: &io::Error) -> String {
        let why = format!("`{}`: {error}", self.name.display());
        self.stopped = Some(why.clone());
        why
    }
}

impl Part {
    fn put(&mut self, text: &str) -> io::Result<()> {
        self.file.write_all(text.as_bytes())?;
        self.bytes += text.len() as u64;
        Ok(())
    }
}

/// Gives the name of the n-th file: `night.jsonl`, `night.2.jsonl`, …
fn part_name(name: &Path, number: u64) -> PathBuf {
    if number == 1 {
        return name.to_owned();
    }
    match name.extension() {
        Some(ending) => name.with_extension(format!("{number}.{}", ending.to_string_lossy())),
        None => name.with_extension(number.to_string()),
    }
}
