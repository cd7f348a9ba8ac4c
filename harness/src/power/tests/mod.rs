//! The estimate against sums worked by hand, against what must hold of any, and its file and page.

use std::time::Duration;

use super::*;

mod file;
mod page;
mod properties;
mod report;
mod worked;

/// A watcher that asks every so many seconds for an hour, one request a poll, on one connection, and
/// is answered at once and without a byte.
fn hourly(period_s: u64) -> Traffic {
    let polls = 3600 / period_s;
    Traffic {
        observed: Duration::from_secs(3600),
        polls,
        requests: polls,
        ..Traffic::default()
    }
}
