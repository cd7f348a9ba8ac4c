//! The log of a running host.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::broadcast;

use super::{ControlError, LogFile};
use crate::control::{Change, Entry, LogHeader};
use crate::sim::VirtualTime;

/// How many bytes of the log are kept in memory. What is older is forgotten, and stays in the log's
/// file if there is one.
///
/// Chosen: some hundred thousand changes, and a client cannot fill the memory.
const MOST_BYTES: usize = 16 << 20;

/// How many notices a reader may be behind before it misses some.
const MOST_BEHIND: usize = 1024;

/// Is what a reader of the stream is told.
#[derive(Debug, Clone)]
pub(super) struct Notice {
    /// What it is about.
    pub(super) event: &'static str,
    /// A JSON object.
    pub(super) data: Arc<str>,
}

/// Takes down every change, in memory and in a file; a clone is the same log.
#[derive(Debug, Clone)]
pub(in crate::server) struct ChangeLog(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    lines: Mutex<Lines>,
    notices: broadcast::Sender<Notice>,
}

#[derive(Debug)]
struct Lines {
    header: LogHeader,
    next: u64,
    kept: VecDeque<Arc<str>>,
    bytes: usize,
    file: Option<LogFile>,
    /// Why the file cannot be written.
    failed: Option<String>,
}

impl ChangeLog {
    pub(in crate::server) fn new(header: LogHeader, file: Option<LogFile>) -> Self {
        let mut lines = Lines {
            header,
            next: 1,
            kept: VecDeque::new(),
            bytes: 0,
            file,
            failed: None,
        };
        let first = json(&lines.header);
        lines.write(&first);
        Self(Arc::new(Inner {
            lines: Mutex::new(lines),
            notices: broadcast::Sender::new(MOST_BEHIND),
        }))
    }

    /// Takes down a change that was made, and gives its number.
    pub(in crate::server) fn append(&self, at: VirtualTime, change: Change) -> u64 {
        let mut lines = self.lines();
        let number = lines.next;
        lines.next += 1;
        let line: Arc<str> = json(&Entry { number, at, change }).into();
        lines.write(&line);
        lines.keep(Arc::clone(&line));
        // Sent with the lock held, so that the stream has the order of the log.
        self.tell("change", || line);
        number
    }

    /// Says whether a change can be taken down.
    pub(super) fn ready(&self) -> Result<(), ControlError> {
        match &self.lines().failed {
            Some(problem) => Err(ControlError::Log {
                problem: problem.clone(),
            }),
            None => Ok(()),
        }
    }

    /// Gives the log as JSON Lines.
    pub(super) fn text(&self) -> String {
        let lines = self.lines();
        let mut text = json(&lines.header);
        text.push('\n');
        for line in &lines.kept {
            text.push_str(line);
            text.push('\n');
        }
        text
    }

    /// Tells the readers of the stream, if there are any.
    pub(super) fn tell(&self, event: &'static str, data: impl FnOnce() -> Arc<str>) {
        if self.0.notices.receiver_count() > 0 {
            let notice = Notice {
                event,
                data: data(),
            };
            // The last of them may just have left.
            let _ = self.0.notices.send(notice);
        }
    }

    pub(super) fn subscribe(&self) -> broadcast::Receiver<Notice> {
        self.0.notices.subscribe()
    }

    fn lines(&self) -> MutexGuard<'_, Lines> {
        // Nothing is left half changed.
        self.0.lines.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Lines {
    fn write(&mut self, line: &str) {
        if let Some(file) = &mut self.file
            && let Err(error) = file.write_line(line)
        {
            self.failed = Some(error.to_string());
            self.file = None;
        }
    }

    fn keep(&mut self, line: Arc<str>) {
        self.bytes += line.len();
        self.kept.push_back(line);
        while self.bytes > MOST_BYTES {
            let Some(oldest) = self.kept.pop_front() else {
                break;
            };
            self.bytes -= oldest.len();
            self.header.forgotten += 1;
        }
    }
}

/// Writes what is known to have a JSON form.
pub(super) fn json(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}
