//! What is in force, as it is shown.

use std::net::SocketAddr;

use serde::{Serialize, Serializer};

use crate::drift::Drift;
use crate::fault::ScopedFault;
use crate::sim::VirtualTime;

/// Is a fault that is raised.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct ShownFault {
    /// The number it is cleared with; `None` for one that was not raised through the control API.
    pub id: Option<u64>,
    /// What it is.
    #[serde(flatten)]
    pub fault: ScopedFault,
    /// What it is, in words.
    pub says: String,
    /// When it was raised.
    #[serde(serialize_with = "words")]
    pub since: VirtualTime,
    /// Whether the time is within the window of its scope.
    pub in_force: bool,
    /// How often it has happened.
    pub happened: u64,
}

/// Is a drift that is in force.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct ShownDrift {
    /// The number it is cleared with; `None` for one that was not raised through the control API.
    pub id: Option<u64>,
    /// What it is.
    #[serde(flatten)]
    pub drift: Drift,
    /// What it does, in words.
    pub says: String,
}

/// Is a connection that is open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct OpenConnection {
    /// Counts the connections of the host, from 1.
    pub number: u64,
    /// Who it is.
    pub peer: SocketAddr,
    /// When it was opened.
    #[serde(serialize_with = "words")]
    pub since: VirtualTime,
    /// How many requests it has sent.
    pub requests: u64,
}

pub(super) fn words<S: Serializer>(at: &VirtualTime, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&crate::control::words(*at))
}
