//! Traffic, board and cell together: the estimate.

use serde::Serialize;

use super::board::Board;
use super::cell::Cell;
use super::formula::{CrossOver, DutyCycle, cross_over, life};
use super::traffic::Traffic;
use super::units::{Hours, MilliampHours, Milliamps, Seconds};

/// The poll periods of the table, s (own choice: a wall display's 1 s to a battery gadget's 10 min).
const PERIODS_S: [f64; 9] = [1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0];
const HOUR_S: f64 = 3600.0;
/// From this share of the whole on, what is never off is what empties the cell (own choice).
const MOOT_SHARE: f64 = 0.5;

/// Is what a watcher's traffic costs a battery: an estimate, no measurement.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct PowerEstimate {
    /// The board's name.
    pub board: String,
    /// The cell's name.
    pub cell: String,
    /// What of the cell can be spent.
    #[serde(rename = "usable-milliamp-hours")]
    pub usable: MilliampHours,
    /// What flows on this board whatever the radio does.
    #[serde(rename = "never-off-milliamps")]
    pub never_off: Milliamps,
    /// How long it was looked at.
    #[serde(rename = "observed-seconds")]
    pub observed: Seconds,
    /// Mean time between polls; `None` if there were none.
    #[serde(rename = "period-seconds")]
    pub period: Option<Seconds>,
    /// The traffic of an hour at that period.
    pub per_hour: PerHour,
    /// What it costs to stay joined to the access point between polls.
    pub joined: Way,
    /// What it costs to sleep deeply between polls, and to join and connect anew for each.
    pub deep_sleep: Way,
    /// From which period on deep sleep is cheaper; `None` without polls.
    pub cross_over: Option<CrossOver>,
    /// What other periods would give, with the same traffic each poll; empty without polls.
    pub periods: Vec<PeriodLife>,
    /// What makes all of the above moot, if anything does.
    pub warning: Option<Warning>,
}

/// Is the traffic of one hour.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct PerHour {
    /// Polls, those made because one had failed included.
    pub polls: f64,
    /// Requests.
    pub requests: f64,
    /// Connections opened.
    pub connections: f64,
    /// Full TLS handshakes.
    pub handshakes: f64,
    /// Bytes, both ways.
    pub bytes: f64,
}

/// Is one way to live between polls, at the period that was seen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Way {
    /// How long a poll takes: waking and joining, the exchange, waiting for the host.
    #[serde(rename = "poll-seconds")]
    pub poll: Seconds,
    /// How long the radio is on in an hour; beacons between polls are not in it.
    #[serde(rename = "radio-on-seconds-per-hour")]
    pub radio_on_per_hour: Seconds,
    /// The average current, with what is never off.
    #[serde(rename = "average-milliamps")]
    pub average: Milliamps,
    /// How long the cell lasts.
    #[serde(rename = "life-hours")]
    pub life: Hours,
}

/// Is what another period would give.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct PeriodLife {
    /// The poll period.
    #[serde(rename = "period-seconds")]
    pub period: Seconds,
    /// Life if it stays joined.
    #[serde(rename = "joined-life-hours")]
    pub joined: Hours,
    /// Life if it sleeps deeply between polls.
    #[serde(rename = "deep-sleep-life-hours")]
    pub deep_sleep: Hours,
}

/// Says that how often it asks hardly matters, and why.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "because")]
pub enum Warning {
    /// A display that is always lit empties the cell.
    DisplayAlwaysLit {
        /// What the display draws.
        #[serde(rename = "display-milliamps")]
        display: Milliamps,
        /// How long the cell lasts with the display alone.
        #[serde(rename = "life-of-display-alone-hours")]
        alone: Hours,
    },
    /// Regulator, USB chip and LED empty the cell.
    BoardNeverOff {
        /// What they draw.
        #[serde(rename = "always-milliamps")]
        always: Milliamps,
        /// How long the cell lasts with them alone.
        #[serde(rename = "life-of-that-alone-hours")]
        alone: Hours,
    },
}

/// Estimates what that traffic costs that cell on that board.
///
/// A retry is a whole poll again; waiting for the host counts at the current of listening. Out of deep
/// sleep no connection is left, so that each poll opens at least one, with its TLS handshake if there
/// are any. What the traffic lacks, an air between watcher and host, the board's times add.
///
/// ```
/// use std::time::Duration;
///
/// use coldbed::power::{self, Board, Cell, Traffic};
///
/// let traffic = Traffic {
///     observed: Duration::from_secs(600),
///     polls: 120,
///     requests: 120,
///     connections_opened: 1,
///     ..Traffic::default()
/// };
/// let board = Board::builtin("wifi-two-core").expect("a board");
/// let cell = Cell::builtin("lipo-1000").expect("a cell");
/// let estimate = power::estimate(&traffic, &board, &cell);
/// assert!(estimate.joined.life > estimate.deep_sleep.life, "every 5 s is too often to sleep");
/// ```
pub fn estimate(traffic: &Traffic, board: &Board, cell: &Cell) -> PowerEstimate {
    let per_poll = PerPoll::of(traffic);
    let joined = per_poll.joined(board);
    let deep_sleep = per_poll.deep_sleep(board);
    let budget = Budget::of(board, cell);
    let observed = Seconds(traffic.observed.as_secs_f64());
    let period =
        (traffic.polls > 0 && observed.0 > 0.0).then(|| Seconds(observed.0 / count(traffic.polls)));
    let (joined_way, deep_way) = (
        budget.way(&joined, joined.burst(), period),
        budget.way(
            &deep_sleep,
            Seconds(deep_sleep.burst().0 - board.wake.value * per_poll.attempts),
            period,
        ),
    );
    let rows = period.map_or(&PERIODS_S[..0], |_| &PERIODS_S);
    PowerEstimate {
        board: board.name().to_owned(),
        cell: cell.name().to_owned(),
        usable: cell.usable(),
        never_off: board.never_off(),
        observed,
        period,
        per_hour: per_poll.per_hour(period),
        joined: joined_way,
        deep_sleep: deep_way,
        cross_over: period.map(|_| cross_over(&joined, &deep_sleep)),
        periods: rows
            .iter()
            .map(|&period_s| PeriodLife {
                period: Seconds(period_s),
                joined: budget.life(joined.average(Seconds(period_s))),
                deep_sleep: budget.life(deep_sleep.average(Seconds(period_s))),
            })
            .collect(),
        warning: budget.warning(board, joined_way.average.0.min(deep_way.average.0)),
    }
}

/// Is the traffic of one mean poll.
struct PerPoll {
    /// 1, and what share of polls was made again.
    attempts: f64,
    requests: f64,
    connections: f64,
    handshakes: f64,
    bytes: f64,
    waiting: Seconds,
}

impl PerPoll {
    fn of(traffic: &Traffic) -> Self {
        let polls = count(traffic.polls.max(1));
        Self {
            attempts: (polls + count(traffic.retries)) / polls,
            requests: count(traffic.requests) / polls,
            connections: count(traffic.connections_opened) / polls,
            handshakes: count(traffic.tls_handshakes) / polls,
            bytes: (count(traffic.bytes_received) + count(traffic.bytes_sent)) / polls,
            waiting: Seconds(traffic.waiting.as_secs_f64() / polls),
        }
    }

    fn joined(&self, board: &Board) -> DutyCycle {
        let exchange = self.exchange(board, self.connections, self.handshakes);
        // Asleep between beacons it is told of an answer at the next one only.
        let receiving = self.waiting.0 + board.beacon.value * self.attempts;
        duty_cycle(board, exchange, receiving, board.joined.value)
    }

    fn deep_sleep(&self, board: &Board) -> DutyCycle {
        let connections = match self.requests > 0.0 {
            true => self.connections.max(self.attempts),
            false => self.connections,
        };
        let secured = match self.connections > 0.0 {
            true => (self.handshakes / self.connections).min(1.0),
            false if self.handshakes > 0.0 => 1.0,
            false => 0.0,
        };
        let handshakes = self.handshakes.max(connections * secured);
        let awake = board.wake.value + board.join.value + board.address.value;
        let active = awake * self.attempts + self.exchange(board, connections, handshakes);
        duty_cycle(board, active, self.waiting.0, board.deep_sleep.value)
    }

    /// What the exchange takes, s, without waiting for the host.
    fn exchange(&self, board: &Board, connections: f64, handshakes: f64) -> f64 {
        self.requests * board.request.value
            + connections * board.connect.value
            + handshakes * board.handshake.value
            + board.airtime(self.bytes).0
    }

    fn per_hour(&self, period: Option<Seconds>) -> PerHour {
        let polls = period.map_or(0.0, |period| HOUR_S / period.0);
        PerHour {
            polls: polls * self.attempts,
            requests: polls * self.requests,
            connections: polls * self.connections,
            handshakes: polls * self.handshakes,
            bytes: polls * self.bytes,
        }
    }
}

fn duty_cycle(board: &Board, active_s: f64, receiving_s: f64, sleep_milliamps: f64) -> DutyCycle {
    DutyCycle {
        active: Seconds(active_s),
        receiving: Seconds(receiving_s),
        active_current: board.active(),
        receive_current: board.receive(),
        sleep_current: Milliamps(sleep_milliamps),
    }
}

/// Is what a cell has to give, and what takes of it all the time.
struct Budget {
    usable: MilliampHours,
    never_off: Milliamps,
    self_discharge: Milliamps,
}

impl Budget {
    fn of(board: &Board, cell: &Cell) -> Self {
        Self {
            usable: cell.usable(),
            never_off: board.never_off(),
            self_discharge: cell.self_discharge(),
        }
    }

    fn life(&self, average: Milliamps) -> Hours {
        let all = average.0 + self.never_off.0 + self.self_discharge.0;
        life(self.usable, Milliamps(all))
    }

    fn way(&self, cycle: &DutyCycle, radio_on: Seconds, period: Option<Seconds>) -> Way {
        let Some(period) = period else {
            // It never asked: only the sleep is left.
            return Way {
                poll: Seconds(0.0),
                radio_on_per_hour: Seconds(0.0),
                average: Milliamps(cycle.sleep_current.0 + self.never_off.0),
                life: self.life(cycle.sleep_current),
            };
        };
        let average = cycle.average(period);
        let whole_s = period.0.max(cycle.burst().0);
        Way {
            poll: cycle.burst(),
            radio_on_per_hour: Seconds(HOUR_S * radio_on.0 / whole_s),
            average: Milliamps(average.0 + self.never_off.0),
            life: self.life(average),
        }
    }

    /// Names what takes the better part of the better way.
    fn warning(&self, board: &Board, better_milliamps: f64) -> Option<Warning> {
        let is_moot = |milliamps: f64| milliamps >= MOOT_SHARE * better_milliamps;
        let alone = |current: Milliamps| life(self.usable, current);
        let (display, always) = (
            Milliamps(board.display.value),
            Milliamps(board.always.value),
        );
        if is_moot(display.0) {
            let alone = alone(display);
            Some(Warning::DisplayAlwaysLit { display, alone })
        } else if is_moot(always.0) {
            let alone = alone(always);
            Some(Warning::BoardNeverOff { always, alone })
        } else {
            None
        }
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "an estimate does not count beyond 2^53"
)]
fn count(number: u64) -> f64 {
    number as f64
}
