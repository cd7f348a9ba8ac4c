//! What a watcher said or did.

use super::Sighting;
use super::ear::Told;

/// Is what a watcher said or did.
#[derive(Debug, Clone, PartialEq)]
pub enum Output {
    /// It claimed something. Where its lines tell only a part each, this is the whole that stands.
    Sighting(Sighting),
    /// It wrote a line that is no sighting, or something is to be said of where sightings come from.
    Line {
        /// Whether it came on the error stream.
        on_stderr: bool,
        /// The line, without its end.
        text: String,
    },
    /// It ended by itself: `exit status: 1`.
    Exited(String),
}

impl From<Told> for Output {
    fn from(told: Told) -> Self {
        match told {
            Told::Line {
                reading: Some(reading),
                on_stderr,
                text,
            } => match reading.sighting {
                Some(sighting) => Self::Sighting(sighting),
                None => Self::Line { on_stderr, text },
            },
            Told::Line {
                on_stderr, text, ..
            } => Self::Line { on_stderr, text },
            Told::Sighting(sighting) => Self::Sighting(*sighting),
            Told::Exited(how) => Self::Exited(how),
        }
    }
}
