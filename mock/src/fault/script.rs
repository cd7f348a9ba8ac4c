//! What happens to the bytes of one answer.

use std::time::Duration;

use bytes::Bytes;

use super::Position;
use crate::drift::FieldCase;

/// Says what happens to the bytes of one answer; by default nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Script {
    /// Interim answers that come first: the status of each.
    pub interim: Vec<u16>,
    /// How many bytes the value of a further field has.
    pub huge_header: Option<u32>,
    /// By how many bytes the length told is wrong.
    pub length_by: Option<i32>,
    /// How the names of the fields are written, where it is another way.
    pub field_case: Option<FieldCase>,
    /// Where the answer ends too early, or what comes instead of it.
    pub cut: Option<Cut>,
    /// Whether the answer comes a second time.
    pub twice: bool,
    /// What follows the answer.
    pub trailing: Option<Bytes>,
    /// How fast the bytes go out.
    pub pace: Pace,
}

/// Says where an answer ends too early, or what comes instead of it.
#[derive(Debug, Clone, PartialEq)]
pub enum Cut {
    /// It ends there.
    At(Position, Ending),
    /// It is closed instead of its last chunk.
    NoLastChunk,
    /// Something else comes, and then the end.
    Instead(Bytes),
}

/// Says how something ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// With a reset (RST).
    Reset,
    /// With a close (FIN).
    Close,
    /// Not at all: nothing more comes.
    Stall,
}

/// Says how fast bytes go out; by default as fast as they can.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Pace {
    /// The time between two bytes, each of them alone.
    pub gap: Option<Duration>,
    /// The most bytes a second.
    pub bytes_per_second: Option<u64>,
}

/// How often a second a paced answer goes on.
///
/// Chosen: slow enough for the timers, fast enough to look like a slow line.
const STEPS_PER_SECOND: u64 = 20;

impl Pace {
    /// Tells how many of the bytes that wait, at least one, go out now, and how long to wait then.
    pub(super) fn next(self, waiting: usize) -> (usize, Duration) {
        match (self.gap, self.bytes_per_second) {
            (None, None) => (waiting, Duration::ZERO),
            (Some(gap), None) => (1, gap),
            (Some(gap), Some(rate)) => (1, gap.max(time_for(1, rate))),
            (None, Some(rate)) => {
                let step = usize::try_from(rate / STEPS_PER_SECOND).unwrap_or(usize::MAX);
                let count = step.clamp(1, waiting);
                (count, time_for(count as u64, rate))
            }
        }
    }

    /// Tells whether each piece is to leave before the next one is written.
    pub(super) fn is_paced(self) -> bool {
        self != Self::default()
    }
}

fn time_for(count: u64, rate: u64) -> Duration {
    let nanos = u128::from(count) * 1_000_000_000 / u128::from(rate.max(1));
    Duration::from_nanos(u64::try_from(nanos).unwrap_or(u64::MAX))
}

impl Script {
    /// Tells whether nothing happens.
    pub fn is_plain(&self) -> bool {
        *self == Self::default()
    }

    /// Tells how an answer of which so much is out ends at once; `None` when it still goes on.
    ///
    /// `body_sent` is `None` while the head is not out.
    pub(super) fn ends_now(&self, sent: u64, body_sent: Option<u64>) -> Option<Ending> {
        let Some(Cut::At(position, ending)) = self.cut else {
            return None;
        };
        let is_passed = match position {
            Position::Start => true,
            Position::Byte(count) => sent >= count,
            Position::HeadEnd => body_sent.is_some(),
            Position::BodyByte(count) => body_sent.is_some_and(|sent| sent >= count),
        };
        is_passed.then_some(ending)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_paced_answer_takes_the_time_that_its_rate_gives_it(
            length in 1_usize..5000,
            rate in 1_u64..100_000,
        ) {
            let pace = Pace { bytes_per_second: Some(rate), ..Pace::default() };
            let (mut left, mut spent) = (length, Duration::ZERO);
            while left > 0 {
                let (count, wait) = pace.next(left);
                prop_assert!((1..=left).contains(&count));
                left -= count;
                spent += wait;
            }
            let exact_s = length as f64 / rate as f64;
            // Each step is cut to a whole nanosecond.
            prop_assert!((spent.as_secs_f64() - exact_s).abs() < 1e-9 * (1.0 + length as f64));
        }
    }

    #[test]
    fn byte_by_byte_is_one_at_a_time_whatever_waits() {
        let gap = Duration::from_millis(3);
        let pace = Pace {
            gap: Some(gap),
            ..Pace::default()
        };
        assert_eq!(pace.next(500), (1, gap));
        assert_eq!(Pace::default().next(500), (500, Duration::ZERO));
    }
}
