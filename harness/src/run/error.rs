//! Why a run gave nothing to judge.

use crate::exit_code::Outcome;
use crate::watcher::StartError;

/// Says why a run could not be carried out.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// The watcher could not be started.
    #[error("the watcher could not be started")]
    Start(#[from] StartError),
    /// The watcher asked for nothing.
    #[error("the watcher asked for nothing within {seconds} s{last_words}")]
    NeverAsked {
        /// How long it was waited for.
        seconds: u64,
        /// The end of its output, in brackets, or nothing.
        last_words: String,
    },
    /// No request of the watcher was ever answered with 200.
    #[error(
        "none of the watcher's {requests} requests was answered with 200, the last with {status} \
         [does the command pass {{url}} and {{key}}?]"
    )]
    NeverAnswered {
        /// How many requests there were.
        requests: usize,
        /// The last answer's status.
        status: u16,
    },
    /// Nothing the watcher wrote could be read as a claim.
    #[error(
        "no line of the watcher's output is a sighting{example} [one JSON object a line, see \
         README.md, \"What a watcher prints\"]"
    )]
    NoSighting {
        /// A line it wrote, or nothing.
        example: String,
    },
    /// The session could not be played.
    #[error("the session cannot be played")]
    Replay(#[from] coldbed_session::replay::ReplayError),
    /// The mock host could not be started.
    #[error("the mock host could not be started")]
    Host(#[from] coldbed_mock::server::StartError),
    /// Something of our own could not be set up: a socket, a file for the time of the run.
    #[error("cannot prepare the run")]
    Own(#[source] std::io::Error),
}

impl RunError {
    /// Gives the way the command ends for it.
    pub fn outcome(&self) -> Outcome {
        match self {
            Self::Start(_) | Self::NeverAsked { .. } | Self::NeverAnswered { .. } => {
                Outcome::NoWatcher
            }
            Self::NoSighting { .. } | Self::Replay(_) => Outcome::BadInput,
            Self::Host(_) | Self::Own(_) => Outcome::OwnFault,
        }
    }
}
