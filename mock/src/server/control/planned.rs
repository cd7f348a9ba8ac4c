//! What a log that is replayed still has in store for the printer.

use std::collections::VecDeque;

use serde_json::{Map, Value};

use crate::scenario::Action;
use crate::sim::{Command, VirtualTime};

/// Is a change of the printer.
#[derive(Debug)]
pub(in crate::server) enum PlannedChange {
    /// Something happens.
    Event {
        /// What.
        action: Action,
        /// As it was issued.
        keys: Map<String, Value>,
    },
    /// A client asked for something.
    Command(Command),
}

/// Holds changes of the printer until their time, in order of time.
#[derive(Debug, Default)]
pub(in crate::server) struct Planned(pub(super) VecDeque<(VirtualTime, PlannedChange)>);

impl Planned {
    /// Gives the moment of the next one.
    pub(in crate::server) fn next_at(&self) -> Option<VirtualTime> {
        self.0.front().map(|(at, _)| *at)
    }

    /// Gives the next one, if its time has come.
    pub(in crate::server) fn pop(
        &mut self,
        now: VirtualTime,
    ) -> Option<(VirtualTime, PlannedChange)> {
        self.next_at().filter(|at| *at <= now)?;
        self.0.pop_front()
    }
}
