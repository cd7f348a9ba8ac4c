//! The one place that every line of a watcher comes through.

use std::sync::{Arc, Mutex, PoisonError};

use super::Sighting;
use super::form::{Form, Reader, Reading};

/// Is what is told of a watcher, with how each line was understood.
#[derive(Debug)]
pub(crate) enum Told {
    /// A line.
    Line {
        /// Whether it came on the error stream.
        on_stderr: bool,
        /// The line, without its end.
        text: String,
        /// How it was understood; `None` where sightings do not come from.
        reading: Option<Box<Reading>>,
    },
    /// A sighting that was never a line.
    Sighting(Box<Sighting>),
    /// The watcher ended by itself.
    Exited(String),
}

/// Takes what is told, at once and in order.
pub(crate) type Tell = Arc<dyn Fn(Told) + Send + Sync>;

/// Reads lines as they come and tells of them.
pub(super) struct Ear {
    reader: Mutex<Reader>,
    tell: Tell,
}

impl Ear {
    pub(super) fn new(form: Arc<Form>, tell: Tell) -> Self {
        Self {
            reader: Mutex::new(Reader::new(form)),
            tell,
        }
    }

    /// Takes a line from where sightings come from. Gives what was wrong with one that is none.
    pub(super) fn sighting_line(&self, on_stderr: bool, text: String) -> Result<(), String> {
        // Nothing that holds the lock can panic half-way through a change. Held while telling, so that
        // two lines that arrive at once are told in the order in which they were laid over each other.
        let mut reader = self.reader.lock().unwrap_or_else(PoisonError::into_inner);
        let reading = reader.read(&text);
        let understood = match &reading.sighting {
            Some(_) => Ok(()),
            None => Err(reading.why_none()),
        };
        (self.tell)(Told::Line {
            on_stderr,
            text,
            reading: Some(Box::new(reading)),
        });
        understood
    }

    /// Takes a line from somewhere else.
    pub(super) fn other_line(&self, on_stderr: bool, text: String) {
        (self.tell)(Told::Line {
            on_stderr,
            text,
            reading: None,
        });
    }

    /// Says something of where sightings come from.
    pub(super) fn note(&self, text: &str) {
        self.other_line(true, format!("coldbed: {text}"));
    }

    pub(super) fn sighting(&self, sighting: Sighting) {
        (self.tell)(Told::Sighting(Box::new(sighting)));
    }

    pub(super) fn exited(&self, how: String) {
        (self.tell)(Told::Exited(how));
    }
}
