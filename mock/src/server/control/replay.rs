//! A log that is made happen again.

use std::collections::{HashSet, VecDeque};
use std::sync::Arc;

use super::planned::{Planned, PlannedChange};
use crate::control::{Change, Entry, LogHeader, LoggedRun};
use crate::dialect::DialectFile;
use crate::scenario::{Action, Scenario};
use crate::server::shared::Shared;

/// Says why a log cannot be replayed.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// It is of another run.
    #[error("the log is of {what} {logged}, and this is {here}")]
    OtherRun {
        /// `scenario`, `seed` or `dialect`.
        what: &'static str,
        /// What the log says.
        logged: String,
        /// What is so here.
        here: String,
    },
    /// A change cannot be made here.
    #[error("entry {number} of the log: {problem}")]
    Entry {
        /// The entry.
        number: u64,
        /// Why not.
        problem: String,
    },
}

/// Is what is to happen again.
#[derive(Debug, Default)]
pub(in crate::server) struct Plan {
    /// The printer's share.
    pub(in crate::server) printer: Planned,
    /// The boards' share.
    pub(in crate::server) boards: VecDeque<Entry>,
}

impl Plan {
    /// Checks a log against what is served here.
    ///
    /// # Errors
    /// [`ReplayError`].
    pub(in crate::server) fn new(
        logged: LoggedRun,
        here: &LogHeader,
        scenario: &Scenario,
        dialects: &DialectFile,
        speaks_tls: bool,
    ) -> Result<Self, ReplayError> {
        is_same_run(&logged.header, here)?;
        let mut plan = Self::default();
        let mut raised = HashSet::new();
        for entry in logged.entries {
            let wrong = |problem: String| ReplayError::Entry {
                number: entry.number,
                problem,
            };
            match &entry.change {
                Change::Clock(_) => {}
                Change::Event(keys) => {
                    let action = scenario.action(keys).map_err(|e| wrong(e.to_string()))?;
                    if let Action::HostUpdated {
                        version: Some(version),
                        ..
                    } = &action
                    {
                        let known = dialects.check_version(version);
                        known.map_err(|error| wrong(error.to_string()))?;
                    }
                    let keys = keys.clone();
                    let change = PlannedChange::Event { action, keys };
                    plan.printer.0.push_back((entry.at, change));
                }
                Change::Command(command) => {
                    let change = PlannedChange::Command(command.clone());
                    plan.printer.0.push_back((entry.at, change));
                }
                Change::FaultRaised(fault) => {
                    fault.check().map_err(|error| wrong(error.to_string()))?;
                    if fault.fault.needs_tls() && !speaks_tls {
                        let name = fault.fault.name();
                        return Err(wrong(format!("`{name}` needs a host that speaks TLS")));
                    }
                    raised.insert(entry.number);
                    plan.boards.push_back(entry);
                }
                Change::DriftRaised(_) => {
                    raised.insert(entry.number);
                    plan.boards.push_back(entry);
                }
                Change::FaultCleared(id) | Change::DriftCleared(id) => {
                    if !raised.contains(id) {
                        return Err(wrong(format!("no entry before it raises number {id}")));
                    }
                    plan.boards.push_back(entry);
                }
            }
        }
        Ok(plan)
    }
}

fn is_same_run(logged: &LogHeader, here: &LogHeader) -> Result<(), ReplayError> {
    let spoken = |header: &LogHeader| match header.dialect_version.is_empty() {
        true => format!("`{}`", header.dialect),
        false => format!("`{}@{}`", header.dialect, header.dialect_version),
    };
    let pairs = [
        (
            "scenario",
            format!("`{}`", logged.scenario),
            format!("`{}`", here.scenario),
        ),
        ("seed", logged.seed.to_string(), here.seed.to_string()),
        ("dialect", spoken(logged), spoken(here)),
    ];
    for (what, logged, here) in pairs {
        if logged != here {
            return Err(ReplayError::OtherRun { what, logged, here });
        }
    }
    Ok(())
}

/// Makes the changes of the boards when their time comes, until the host stops.
///
/// Requests see to it themselves that they are not earlier; this is for what nobody asks for, such
/// as a port that is closed.
pub(in crate::server) async fn run(shared: Arc<Shared>) {
    let clock = shared.wire.clock.clone();
    let next = || shared.desk.as_ref().and_then(|desk| desk.next_replayed());
    while let Some(at) = next() {
        tokio::select! {
            () = shared.stop.cancelled() => return,
            () = clock.reaches(at) => shared.catch_up(),
        }
    }
}
