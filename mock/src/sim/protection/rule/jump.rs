//! More change than the physics allow.

use std::time::Duration;

use super::super::error::{ProtectionError, kelvin, within};
use super::super::trip::{Finding, Rule};
use super::Seen;

/// How much change from one reading to the next is believable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum JumpBound {
    /// In kelvin, however far apart the readings are.
    BetweenReadings {
        /// Largest believable change.
        kelvin: f64,
    },
    /// In kelvin per second between the readings. Noise divided by a short period is a large rate: keep the bound
    /// above 10 standard deviations of the noise over the period.
    PerSecond {
        /// Largest believable rate.
        kelvin_per_s: f64,
    },
}

/// Trips when two readings in a row lie further apart than is believable.
///
/// Readings without a temperature are passed over: the last temperature before them counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Jump {
    /// The bound.
    pub bound: JumpBound,
}

impl Jump {
    pub(in super::super) fn check(&self) -> Result<(), ProtectionError> {
        match self.bound {
            JumpBound::BetweenReadings { kelvin: bound } => kelvin(Rule::Jump, "change", bound),
            JumpBound::PerSecond { kelvin_per_s } => {
                within(Rule::Jump, "rate", kelvin_per_s, "K/s", [1e-3, 1e6])
            }
        }
    }
}

#[derive(Clone, Copy, Debug, Default)]
pub(in super::super) struct JumpWatch {
    last: Option<(Duration, f64)>,
}

impl JumpWatch {
    /// Gives a range round a reading in which no two readings are too far apart, if that does not
    /// depend on when they are taken.
    pub(in super::super) fn calm(rule: &Jump, celsius: f64) -> Option<(f64, f64)> {
        match rule.bound {
            JumpBound::BetweenReadings { kelvin } => {
                Some((celsius - kelvin / 2.0, celsius + kelvin / 2.0))
            }
            JumpBound::PerSecond { .. } => None,
        }
    }

    /// Takes note of a reading in the range of [`Self::calm`]; its time does not matter there.
    #[inline]
    pub(in super::super) fn note(&mut self, celsius: f64) {
        if let Some((_, last)) = &mut self.last {
            *last = celsius;
        }
    }

    pub(in super::super) fn observe(&mut self, rule: &Jump, seen: &Seen) -> Option<Finding> {
        let (at, celsius) = self.last.replace((seen.at, seen.celsius))?;
        let change_kelvin = (seen.celsius - celsius).abs();
        let (bound, observed, unit) = match rule.bound {
            JumpBound::BetweenReadings { kelvin } => (kelvin, change_kelvin, "K"),
            JumpBound::PerSecond { kelvin_per_s } => {
                let elapsed = seen.at.saturating_sub(at);
                if elapsed.is_zero() {
                    // The same reading looked at twice has no rate: the time of the first look stays.
                    self.last = Some((at, celsius));
                    return None;
                }
                (kelvin_per_s, change_kelvin / elapsed.as_secs_f64(), "K/s")
            }
        };
        (observed > bound).then_some(Finding {
            bound,
            observed,
            unit,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(at_ms: u64, celsius: f64) -> Seen {
        Seen {
            at: Duration::from_millis(at_ms),
            celsius,
            target_celsius: None,
            power_fraction: 0.0,
        }
    }

    #[test]
    fn a_change_beyond_the_bound_trips_either_way() {
        let rule = Jump {
            bound: JumpBound::BetweenReadings { kelvin: 20.0 },
        };
        for (to, expected) in [
            (230.0, None),
            (231.0, Some(21.0)),
            (190.0, None),
            (189.0, Some(21.0)),
        ] {
            let mut watch = JumpWatch::default();
            assert_eq!(watch.observe(&rule, &seen(0, 210.0)), None);
            let found = watch.observe(&rule, &seen(1000, to));
            assert_eq!(
                found,
                expected.map(|observed| Finding {
                    bound: 20.0,
                    observed,
                    unit: "K"
                })
            );
        }
    }

    // 6 K in 0.5 s are 12 K/s, in 1 s 6 K/s.
    #[test]
    fn a_rate_takes_the_time_between_readings_into_account() {
        let rule = Jump {
            bound: JumpBound::PerSecond { kelvin_per_s: 10.0 },
        };
        let mut watch = JumpWatch::default();
        assert_eq!(watch.observe(&rule, &seen(0, 210.0)), None);
        assert_eq!(watch.observe(&rule, &seen(1000, 216.0)), None);
        let found = watch.observe(&rule, &seen(1500, 222.0));
        assert_eq!(
            found,
            Some(Finding {
                bound: 10.0,
                observed: 12.0,
                unit: "K/s"
            })
        );
    }

    #[test]
    fn two_looks_at_one_moment_give_no_infinite_rate() {
        let rule = Jump {
            bound: JumpBound::PerSecond { kelvin_per_s: 10.0 },
        };
        let mut watch = JumpWatch::default();
        assert_eq!(watch.observe(&rule, &seen(0, 210.0)), None);
        assert_eq!(watch.observe(&rule, &seen(0, 290.0)), None);
        assert!(watch.observe(&rule, &seen(1000, 290.0)).is_some());
    }
}
