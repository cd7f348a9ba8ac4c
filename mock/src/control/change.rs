//! One change, and the lines of the log.

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::moment;
use crate::drift::Drift;
use crate::fault::ScopedFault;
use crate::sim::{Command, VirtualTime};

/// Is a change that somebody made from outside.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Change {
    /// The clock was set.
    Clock(ClockChange),
    /// A fault was raised. It is known by the number of the entry from then on.
    FaultRaised(ScopedFault),
    /// The fault that this entry raised was taken back.
    FaultCleared(u64),
    /// A drift was raised. It is known by the number of the entry from then on.
    DriftRaised(Drift),
    /// The drift that this entry raised was taken back.
    DriftCleared(u64),
    /// Something happened to the printer: the keys of an event of a scenario file, without a time.
    Event(Map<String, Value>),
    /// The printer did what a client asked for over the wire.
    Command(Command),
}

/// Says how the clock was set.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClockChange {
    /// It stands still.
    Paused,
    /// It runs.
    Resumed,
    /// It runs at so many virtual seconds per real second, now or when it is resumed.
    Rate(f64),
    /// It was put forward to a moment.
    #[serde(with = "moment")]
    JumpedTo(VirtualTime),
}

/// Is a line of the log but the first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Entry {
    /// Counts the entries, from 1.
    pub number: u64,
    /// The virtual time.
    #[serde(with = "moment")]
    pub at: VirtualTime,
    /// What was changed.
    pub change: Change,
}

/// Is the first line of the log: what the run was a run of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct LogHeader {
    /// The version of the format.
    pub coldbed_log: u32,
    /// The scenario: a built-in name or a file.
    pub scenario: String,
    /// The seed.
    pub seed: u64,
    /// The dialect.
    pub dialect: String,
    /// Its version at the start; empty when it has none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub dialect_version: String,
    /// How many entries at the beginning are no longer there; such a log cannot be replayed.
    #[serde(default, skip_serializing_if = "is_none")]
    pub forgotten: u64,
}

impl LogHeader {
    /// The version of the format that is written.
    pub const VERSION: u32 = 1;
}

fn is_none(number: &u64) -> bool {
    *number == 0
}
