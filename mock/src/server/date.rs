//! The calendar of the machine.

use std::time::SystemTime;

#[expect(
    clippy::disallowed_methods,
    reason = "dates on the wire and in certificates are the client's own calendar, not virtual time"
)]
pub(super) fn real_date() -> SystemTime {
    SystemTime::now()
}
