//! Virtual time and the grid the simulation runs on.

use std::fmt;
use std::time::Duration;

use serde::{Serialize, Serializer};

/// Names a moment of virtual time: the span since the scenario's start.
///
/// Serialised as seconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct VirtualTime(Duration);

impl VirtualTime {
    /// The scenario's start.
    pub const ZERO: Self = Self(Duration::ZERO);

    /// Wraps the span since the scenario's start.
    pub const fn new(since_start: Duration) -> Self {
        Self(since_start)
    }

    /// Gives the span since the scenario's start.
    pub const fn since_start(self) -> Duration {
        self.0
    }

    /// Gives the span since the scenario's start in seconds.
    pub const fn as_seconds(self) -> f64 {
        self.0.as_secs_f64()
    }

    /// Gives the tick of the simulation grid that is in force at this moment.
    pub fn tick(self) -> Tick {
        let ticks = self.0.as_nanos() / Tick::PERIOD.as_nanos();
        Tick(u64::try_from(ticks).unwrap_or(u64::MAX))
    }
}

impl std::ops::Add<Duration> for VirtualTime {
    type Output = Self;
    fn add(self, span: Duration) -> Self {
        Self(self.0.saturating_add(span))
    }
}

impl fmt::Display for VirtualTime {
    /// Writes the moment as people write a span: `1h 20m 3s`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let whole_seconds = Duration::from_millis(
            u64::try_from(self.0.as_millis() / 100 * 100).unwrap_or(u64::MAX),
        );
        match jiff::SignedDuration::try_from(whole_seconds) {
            Ok(span) => write!(f, "{span:#}"),
            Err(_) => write!(f, "{}s", self.0.as_secs()),
        }
    }
}

impl Serialize for VirtualTime {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(self.as_seconds())
    }
}

/// Counts control periods since the scenario's start.
///
/// The printer changes only at ticks, so what it shows between two of them is what it was at the
/// earlier one. That is what makes truth independent of who asks, how often and at which rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize)]
pub struct Tick(pub u64);

impl Tick {
    /// The control period: 0.1 s, the upper end of the usual 1 to 10 samples per second
    /// (common practice).
    pub const PERIOD: Duration = Duration::from_millis(100);

    /// The control period in seconds.
    pub const PERIOD_S: f64 = 0.1;

    /// Gives the moment at which this tick begins.
    pub fn start(self) -> VirtualTime {
        VirtualTime(Duration::from_millis(self.0.saturating_mul(100)))
    }

    /// Gives the first tick that begins at or after the given span.
    pub fn at_or_after(span: Duration) -> Self {
        Self(u64::try_from(span.as_nanos().div_ceil(Self::PERIOD.as_nanos())).unwrap_or(u64::MAX))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_between_two_ticks_belongs_to_the_earlier_one() {
        assert_eq!(VirtualTime::new(Duration::from_millis(199)).tick(), Tick(1));
        assert_eq!(VirtualTime::new(Duration::from_millis(200)).tick(), Tick(2));
        assert_eq!(Tick::at_or_after(Duration::from_millis(101)), Tick(2));
        assert_eq!(Tick(2).start().as_seconds().to_bits(), 0.2_f64.to_bits());
    }

    #[test]
    fn is_written_as_people_write_a_span() {
        let moment = VirtualTime::new(Duration::from_millis(4_803_456));
        assert_eq!(moment.to_string(), "1h 20m 3s 400ms");
    }
}
