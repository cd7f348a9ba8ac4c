//! A compressed body.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::drift::DriftClass;
use crate::drift::change::{Form, Kind};
use crate::drift::form::FormChange;

/// Compresses answers with gzip for clients that name it in `Accept-Encoding`, and like it no less
/// than no coding. Compatible.
///
/// A client that sends no such field gets its answers as ever. The standard would let a host
/// compress them for it too, since nothing is refused; but a small client that sends no field often
/// has nothing to decompress with, and this is the careful reading.
///
/// # Source
/// RFC 9110 section 12.5.3: what a client accepts, and that without the field any coding is
/// acceptable; section 8.4.1.3: gzip.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Gzip;

impl Kind for Gzip {
    fn class(&self) -> DriftClass {
        DriftClass::Compatible
    }

    fn explain(&self, place: &str) -> String {
        format!("{place} is compressed with gzip for clients that ask for it")
    }
}

impl Form for Gzip {
    fn form(&self) -> FormChange {
        FormChange {
            gzip: true,
            ..FormChange::default()
        }
    }

    fn fields(&self) -> [&'static str; 2] {
        ["", "Content-Encoding: gzip"]
    }
}
