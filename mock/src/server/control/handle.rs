//! The changes as functions.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::change_log::Notice;
use super::items::words;
use super::{ControlError, Desk, OpenConnection, ShownDrift, ShownFault};
use crate::control::{Change, ClockChange, Exchange, Jump};
use crate::drift::Drift;
use crate::fault::{ScopedFault, Span};
use crate::server::ClockError;
use crate::server::shared::Shared;
use crate::sim::{Phase, Truth, VirtualTime};

/// The highest rate: a day in a second.
///
/// Chosen: beyond that a poll would skip whole jobs.
const MOST_RATE: f64 = 86_400.0;

/// Reads and changes a running host; a clone is the same. What it raises stays in force until it is
/// cleared or the host stops, whoever holds this meanwhile.
///
/// Every change is logged with its virtual time. With a clock that stands still that is exact; an
/// answer that is made while something is changed under a running clock may be on either side.
#[derive(Debug, Clone)]
pub struct Control {
    pub(super) shared: Arc<Shared>,
    pub(super) desk: Arc<Desk>,
}

/// Says how a clock is to be set. What is `None` stays.
#[derive(Debug, Clone, Copy, PartialEq, Default, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct ClockSetting {
    /// Whether it is to stand still.
    pub paused: Option<bool>,
    /// Virtual seconds per real second, 0 to 86400.
    pub rate: Option<f64>,
}

/// Is what a clock shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct ClockReading {
    /// The virtual time.
    #[serde(serialize_with = "words")]
    pub now: VirtualTime,
    /// The same in seconds.
    pub now_seconds: f64,
    /// Whether it stands still.
    pub paused: bool,
    /// Virtual seconds per real second, also while it stands still.
    pub rate: f64,
}

/// Says what became of an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Issued {
    /// The number of the log's entry.
    pub number: u64,
    /// The virtual time at which it happened.
    #[serde(serialize_with = "words")]
    pub at: VirtualTime,
    /// The phase right after it.
    pub phase: Phase,
}

impl Control {
    pub(in crate::server) fn new(shared: Arc<Shared>, desk: Arc<Desk>) -> Self {
        Self { shared, desk }
    }

    /// Gives the truth now.
    pub fn truth(&self) -> Arc<Truth> {
        self.shared.printer().truth(self.shared.wire.clock.now())
    }

    /// Reads the clock.
    pub fn clock(&self) -> ClockReading {
        let clock = &self.shared.wire.clock;
        let now = clock.now();
        ClockReading {
            now,
            now_seconds: now.as_seconds(),
            paused: clock.is_paused(),
            rate: clock.rate(),
        }
    }

    /// Sets the clock's rate, lets it stand still, or lets it run.
    ///
    /// # Errors
    /// The rate is not 0 to 86400; the log cannot be written.
    pub fn set_clock(&self, setting: ClockSetting) -> Result<ClockReading, ControlError> {
        let clock = &self.shared.wire.clock;
        let log = &self.desk.log;
        self.desk.in_turn(|| {
            log.ready()?;
            check_rate(setting.rate)?;
            // Whoever sets both wants it to stand still here, or to run at that rate from here on.
            if setting.paused == Some(true) && !clock.is_paused() {
                clock.pause();
                log.append(clock.now(), Change::Clock(ClockChange::Paused));
            }
            if let Some(rate) = setting.rate {
                let at = clock.now();
                clock.set_rate(rate)?;
                log.append(at, Change::Clock(ClockChange::Rate(rate)));
            }
            if setting.paused == Some(false) && clock.is_paused() {
                let at = clock.now();
                clock.resume();
                log.append(at, Change::Clock(ClockChange::Resumed));
            }
            Ok::<(), ControlError>(())
        })?;
        Ok(self.clock())
    }

    /// Puts the clock forward, running or paused.
    ///
    /// # Errors
    /// The moment is past, or more than [`Span::LONGEST`] after the start; the log cannot be
    /// written.
    pub fn jump(&self, jump: Jump) -> Result<ClockReading, ControlError> {
        let clock = &self.shared.wire.clock;
        self.desk.in_turn(|| {
            self.desk.log.ready()?;
            let at = clock.now();
            let to = jump.from(at);
            if to.since_start() > Span::LONGEST.0 {
                return Err(ControlError::TooFar);
            }
            clock.jump_to(to)?;
            let change = Change::Clock(ClockChange::JumpedTo(to));
            self.desk.log.append(at, change);
            Ok(())
        })?;
        self.shared.catch_up();
        Ok(self.clock())
    }

    /// Lists the faults that are raised, first raised first.
    pub fn faults(&self) -> Vec<ShownFault> {
        self.shared.catch_up();
        self.desk.faults(&self.shared)
    }

    /// Raises a fault and gives its number. It is in force when this returns, except that the
    /// listener is closed or deaf only once [`Control::settled`] has come back.
    ///
    /// # Errors
    /// The fault cannot have the scope, needs TLS where there is none, or there are too many; the
    /// log cannot be written.
    pub fn raise_fault(&self, fault: impl Into<ScopedFault>) -> Result<u64, ControlError> {
        self.shared.catch_up();
        self.desk.raise_fault(&self.shared, fault.into())
    }

    /// Takes a fault back.
    ///
    /// # Errors
    /// No fault of that number is raised; the log cannot be written.
    pub fn clear_fault(&self, id: u64) -> Result<(), ControlError> {
        self.shared.catch_up();
        self.desk.clear_fault(&self.shared, id)
    }

    /// Takes every fault back that was raised here.
    ///
    /// # Errors
    /// The log cannot be written.
    pub fn clear_faults(&self) -> Result<(), ControlError> {
        self.shared.catch_up();
        self.desk.clear_faults(&self.shared)
    }

    /// Waits until the faults' changes so far are carried out: the listener really closed, or open
    /// again.
    pub async fn settled(&self) {
        // A clock that was put forward may have passed the beginning or the end of a window, or of
        // what the timeline has.
        self.shared.keep_up();
        self.shared.faults.edge_passed();
        self.shared.faults.settled().await;
    }

    /// Lists the drifts that are in force, first raised first.
    pub fn drifts(&self) -> Vec<ShownDrift> {
        self.shared.catch_up();
        self.desk.drifts(&self.shared)
    }

    /// Raises a drift and gives its number.
    ///
    /// # Errors
    /// There are too many; the log cannot be written.
    pub fn raise_drift(&self, drift: Drift) -> Result<u64, ControlError> {
        self.shared.catch_up();
        self.desk.raise_drift(&self.shared, drift)
    }

    /// Takes a drift back.
    ///
    /// # Errors
    /// No drift of that number is raised; the log cannot be written.
    pub fn clear_drift(&self, id: u64) -> Result<(), ControlError> {
        self.shared.catch_up();
        self.desk.clear_drift(&self.shared, id)
    }

    /// Takes every drift back that was raised here.
    ///
    /// # Errors
    /// The log cannot be written.
    pub fn clear_drifts(&self) -> Result<(), ControlError> {
        self.shared.catch_up();
        self.desk.clear_drifts(&self.shared)
    }

    /// Lets something happen to the printer now, in the keys of an event of a scenario file:
    /// `{ "action": "set-target", "heater": "platform", "celsius": 60 }`. What an operator does at
    /// the wrong moment has no effect, as on a real machine.
    ///
    /// # Errors
    /// The keys cannot be understood or do not fit scenario and dialect; the log cannot be written.
    pub fn issue(&self, keys: Map<String, Value>) -> Result<Issued, ControlError> {
        self.shared.catch_up();
        let scenario = self.shared.scenario();
        let action = scenario.action(&keys).map_err(ControlError::Event)?;
        let (number, at, phase) = self.desk.issue(&self.shared, &action, keys)?;
        // What it does to the wire is seen to from here on, although nobody asks.
        self.shared.keep_up();
        Ok(Issued { number, at, phase })
    }

    /// Gives the first exchanges after a number, at most so many, and the number of the last there
    /// was. The last thousand are remembered.
    pub fn requests(&self, since: u64, most: usize) -> (Vec<Exchange>, u64) {
        self.desk.book.since(since, most)
    }

    /// Lists the connections that are open.
    pub fn connections(&self) -> Vec<OpenConnection> {
        self.desk.book.connections()
    }

    /// Gives the log so far as JSON Lines, which [`LoggedRun`](crate::control::LoggedRun) reads.
    pub fn log(&self) -> String {
        // What was put off until now has its effect now.
        self.truth();
        self.shared.catch_up();
        self.desk.log.text()
    }

    pub(super) fn notices(&self) -> tokio::sync::broadcast::Receiver<Notice> {
        self.desk.log.subscribe()
    }
}

fn check_rate(rate: Option<f64>) -> Result<(), ControlError> {
    match rate {
        Some(rate) if rate > MOST_RATE => Err(ControlError::TooFast {
            rate,
            most: MOST_RATE,
        }),
        Some(rate) if !(0.0..=MOST_RATE).contains(&rate) => Err(ClockError::Rate(rate).into()),
        _ => Ok(()),
    }
}
