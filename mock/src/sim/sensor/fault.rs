//! What can go wrong with a sensor.

use std::time::Duration;

use super::error::{SensorError, within};
use super::noise::Chance;
use super::reading::{Break, Reading};

/// Names a sensor fault, as a scenario does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FaultKind {
    /// The circuit is cut.
    Open,
    /// The leads touch.
    Short,
    /// The host goes on with the last reading that it had.
    Frozen,
    /// The sensor reads ever more off; above 0 it reads too hot. In kelvin per hour, -1e5 to 1e5.
    Drifting {
        /// Growth of the deviation.
        kelvin_per_hour: f64,
    },
    /// A contact that is open in some readings, each with this probability, 0 to 1, whatever the one before was.
    Loose {
        /// Probability that a reading finds the contact open.
        probability: f64,
    },
}

/// A fault in a span of readings.
///
/// What it does at a reading depends on nothing but this value, the reading's index and the sensor's seed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fault {
    kind: FaultKind,
    from_index: u64,
    until_index: Option<u64>,
    held: Reading,
}

/// What a fault does to one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Disturbance {
    /// The ADC sees a broken circuit.
    Broken(Break),
    /// The host keeps what it had.
    Held(Reading),
    /// The element stands in for a temperature that is off by this much.
    Bias {
        /// The deviation.
        kelvin: f64,
    },
}

impl Fault {
    /// Makes a fault that holds from one reading on.
    ///
    /// `last_reading` is what the host had before; a frozen sensor keeps it, the other kinds ignore it.
    ///
    /// # Errors
    /// [`SensorError::OutOfRange`] for a drift or a probability outside the bounds of [`FaultKind`].
    pub fn new(
        kind: FaultKind,
        from_index: u64,
        last_reading: Reading,
    ) -> Result<Self, SensorError> {
        match kind {
            FaultKind::Drifting { kelvin_per_hour } => {
                within("sensor drift", kelvin_per_hour, "K/h", -1e5, 1e5)?;
            }
            FaultKind::Loose { probability } => {
                within(
                    "probability of an open contact",
                    probability,
                    "per reading",
                    0.0,
                    1.0,
                )?;
            }
            FaultKind::Open | FaultKind::Short | FaultKind::Frozen => {}
        }
        Ok(Self {
            kind,
            from_index,
            until_index: None,
            held: last_reading,
        })
    }

    /// Makes the fault end before this reading, unless it ended earlier anyway.
    #[must_use]
    pub fn until(mut self, index: u64) -> Self {
        self.until_index = Some(self.until_index.map_or(index, |already| already.min(index)));
        self
    }

    /// Returns what happens to one reading; `None` if the fault leaves it alone.
    pub(super) fn at(
        &self,
        index: u64,
        reading_period: Duration,
        contact: Chance,
    ) -> Option<Disturbance> {
        if index < self.from_index || self.until_index.is_some_and(|until| index >= until) {
            return None;
        }
        match self.kind {
            FaultKind::Open => Some(Disturbance::Broken(Break::Open)),
            FaultKind::Short => Some(Disturbance::Broken(Break::Short)),
            FaultKind::Frozen => Some(Disturbance::Held(self.held)),
            FaultKind::Drifting { kelvin_per_hour } => {
                let hours =
                    (index - self.from_index) as f64 * reading_period.as_secs_f64() / 3600.0;
                Some(Disturbance::Bias {
                    kelvin: kelvin_per_hour * hours,
                })
            }
            FaultKind::Loose { probability } => {
                (contact.share(index) < probability).then_some(Disturbance::Broken(Break::Open))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::noise::Stream;
    use super::*;

    const SECOND: Duration = Duration::from_secs(1);
    const HELD: Reading = Reading::Celsius(205.5);

    fn contact() -> Chance {
        Chance::new(5, 0, Stream::Contact)
    }

    #[test]
    fn a_fault_holds_from_its_first_reading_to_before_its_last() {
        let fault = Fault::new(FaultKind::Open, 10, HELD)
            .unwrap()
            .until(12)
            .until(99);
        let struck: Vec<u64> = (0..20)
            .filter(|&index| fault.at(index, SECOND, contact()).is_some())
            .collect();
        assert_eq!(struck, [10, 11]);
    }

    #[test]
    fn a_frozen_sensor_keeps_the_reading_it_was_given() {
        let fault = Fault::new(FaultKind::Frozen, 3, HELD).unwrap();
        assert_eq!(
            fault.at(1_000_000, SECOND, contact()),
            Some(Disturbance::Held(HELD))
        );
    }

    // 6 K/h, one reading a second: 600 readings are 10 min, 1 K; 3600 are one hour, 6 K.
    #[test]
    fn drift_grows_with_time_from_its_start() {
        let fault = Fault::new(
            FaultKind::Drifting {
                kelvin_per_hour: 6.0,
            },
            100,
            HELD,
        )
        .unwrap();
        for (index, expected) in [(100, 0.0), (700, 1.0), (3700, 6.0)] {
            let Some(Disturbance::Bias { kelvin }) = fault.at(index, SECOND, contact()) else {
                panic!("no bias")
            };
            assert!((kelvin - expected).abs() < 1e-12, "{index}: {kelvin}");
        }
    }

    // n = 1e5 readings at 0.2: 20000 expected, standard deviation sqrt(n 0.2 0.8) = 126; five of it.
    #[test]
    fn a_loose_contact_is_open_as_often_as_stated() {
        let fault = Fault::new(FaultKind::Loose { probability: 0.2 }, 0, HELD).unwrap();
        let open = (0..100_000)
            .filter(|&index| fault.at(index, SECOND, contact()).is_some())
            .count();
        assert!(open.abs_diff(20_000) < 630, "{open}");
    }

    #[test]
    fn a_loose_contact_is_never_open_at_zero_and_always_at_one() {
        for (probability, expected) in [(0.0, 0), (1.0, 10_000)] {
            let fault = Fault::new(FaultKind::Loose { probability }, 0, HELD).unwrap();
            let open = (0..10_000)
                .filter(|&index| fault.at(index, SECOND, contact()).is_some())
                .count();
            assert_eq!(open, expected);
        }
    }

    #[test]
    fn a_probability_above_one_is_refused() {
        let refusal = Fault::new(FaultKind::Loose { probability: 1.5 }, 0, HELD).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "probability of an open contact is 1.5 per reading, outside 0 to 1 per reading"
        );
    }
}
