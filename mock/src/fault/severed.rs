//! Which connections did not live through a fault that is over.

use std::collections::HashMap;

/// Remembers which faults have ended connections, by the change of the board with which they began:
/// who was open before does not come back, also when nobody noticed the fault while it lasted.
#[derive(Debug, Default)]
pub(super) struct Severed {
    /// When connections were closed last.
    closed: u64,
    /// When all connections died last.
    dead: u64,
    /// When single ones did.
    dead_by_number: HashMap<u64, u64>,
}

impl Severed {
    pub(super) fn close(&mut self, began: u64) {
        self.closed = self.closed.max(began);
    }

    pub(super) fn kill(&mut self, began: u64, connection: Option<u64>) {
        match connection {
            None => self.dead = self.dead.max(began),
            Some(connection) => {
                self.dead_by_number.insert(connection, began);
            }
        }
    }

    /// Gives the change with which connections were closed last; 0 if they never were.
    pub(super) fn closed(&self) -> u64 {
        self.closed
    }

    /// Tells whether a connection has died that was opened when there had been so many changes.
    pub(super) fn is_dead(&self, connection: u64, opened: u64) -> bool {
        let by_number = self.dead_by_number.get(&connection);
        self.dead > opened || by_number.is_some_and(|began| *began > opened)
    }
}
