//! One exchange, as it is remembered.

use serde::Serialize;

use super::moment;
use crate::sim::VirtualTime;

/// Is one request with what became of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Exchange {
    /// Counts the exchanges of the host, from 1, in the order in which their requests were read.
    pub number: u64,
    /// The connection it was on, counted from 1.
    pub connection: u64,
    /// The virtual time at which the request was read.
    #[serde(with = "moment")]
    pub at: VirtualTime,
    /// The method.
    pub method: String,
    /// The request target, without the key.
    pub target: String,
    /// The request's fields, names in lower case, keys and cookies hidden.
    pub fields: Vec<(String, String)>,
    /// The request's body; `None` when there was none.
    pub body: Option<Excerpt>,
    /// The names of the faults that had a part in it.
    pub faults: Vec<String>,
    /// What was answered; `None` when nothing was, or not yet.
    pub answer: Option<Outcome>,
    /// What was pushed afterwards; `None` when nothing was.
    pub pushed: Option<Pushed>,
}

/// Is an answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Outcome {
    /// The virtual time at which it was made.
    #[serde(with = "moment")]
    pub at: VirtualTime,
    /// The status.
    pub status: u16,
    /// The fields, cookies hidden, without those the connection adds.
    pub fields: Vec<(String, String)>,
    /// The body, whole and not compressed, whatever a fault then lets through.
    pub body: Excerpt,
}

/// Is the beginning of a body.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Excerpt {
    /// How many bytes the whole body has.
    pub bytes: u64,
    /// Its beginning as text; bytes that are not UTF-8 are replaced.
    pub text: String,
    /// Whether the text is only the beginning.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub cut: bool,
}

/// Counts what was pushed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Pushed {
    /// How many messages.
    pub messages: u64,
    /// How many bytes in all.
    pub bytes: u64,
}

impl Excerpt {
    /// The most bytes that are kept.
    ///
    /// Chosen: a body of the built-in dialect fits, and a thousand of them take a megabyte or two.
    const MOST_BYTES: usize = 1024;

    /// Keeps the beginning of a body; `hide` takes out what may not be shown.
    pub(super) fn of(body: &[u8], hide: impl FnOnce(&str) -> String) -> Self {
        // The whole is gone through, so that no half of a key stands at the end.
        let whole = hide(&String::from_utf8_lossy(body));
        let text = beginning(&whole, Self::MOST_BYTES);
        Self {
            bytes: body.len() as u64,
            cut: text.len() < whole.len(),
            text: text.to_owned(),
        }
    }
}

/// Gives the beginning of a text, at most so many bytes of it.
pub(super) fn beginning(text: &str, most_bytes: usize) -> &str {
    &text[..text.floor_char_boundary(most_bytes)]
}
