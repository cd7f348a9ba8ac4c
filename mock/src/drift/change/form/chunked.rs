//! A body whose length is not told.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::drift::DriftClass;
use crate::drift::change::{Form, Kind};
use crate::drift::form::FormChange;

/// Sends answers in chunks instead of telling their length. Compatible.
///
/// A client of HTTP/1.0 is told the length as ever: it must not be sent chunks.
///
/// # Source
/// RFC 9112 section 7.1: a recipient must be able to read the chunked coding; section 6.1: not to
/// HTTP/1.0.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Chunked;

impl Kind for Chunked {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} comes in chunks, without its length")
    }
}

impl Form for Chunked {
    fn form(&self) -> FormChange {
        FormChange {
            chunked: true,
            ..FormChange::default()
        }
    }

    fn fields(&self) -> [&'static str; 2] {
        ["Content-Length: 250", "Transfer-Encoding: chunked"]
    }
}
