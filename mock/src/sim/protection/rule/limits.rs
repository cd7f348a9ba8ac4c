//! Above the hard maximum, below the lowest believable temperature.

use std::time::Duration;

use super::super::error::{ProtectionError, celsius};
use super::super::trip::{Finding, Rule};
use super::Seen;
use super::dwell::Dwell;

/// Trips when the reading is above a limit for a period; at once with a period of nothing. Watched with the heater
/// off as well, since a switch may be stuck on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AboveMaximum {
    /// The hard maximum in degrees Celsius, itself allowed.
    pub maximum_celsius: f64,
    /// How long the reading may be above it.
    pub period: Duration,
}

/// Trips when the reading is below a limit for a period; at once with a period of nothing. The usual sign of an
/// open thermistor. Watched with the heater off as well.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BelowMinimum {
    /// The lowest believable temperature in degrees Celsius, itself allowed.
    pub minimum_celsius: f64,
    /// How long the reading may be below it.
    pub period: Duration,
}

impl AboveMaximum {
    pub(in super::super) fn check(&self) -> Result<(), ProtectionError> {
        celsius(Rule::AboveMaximum, "maximum", self.maximum_celsius)
    }
}

impl BelowMinimum {
    pub(in super::super) fn check(&self) -> Result<(), ProtectionError> {
        celsius(Rule::BelowMinimum, "minimum", self.minimum_celsius)
    }
}

#[derive(Clone, Copy, Debug, Default)]
pub(in super::super) struct LimitWatch {
    beyond: Dwell,
}

impl LimitWatch {
    pub(in super::super) fn above(&mut self, rule: &AboveMaximum, seen: &Seen) -> Option<Finding> {
        let beyond = seen.celsius > rule.maximum_celsius;
        self.finding(beyond, rule.maximum_celsius, rule.period, seen)
    }

    pub(in super::super) fn below(&mut self, rule: &BelowMinimum, seen: &Seen) -> Option<Finding> {
        let beyond = seen.celsius < rule.minimum_celsius;
        self.finding(beyond, rule.minimum_celsius, rule.period, seen)
    }

    fn finding(
        &mut self,
        beyond: bool,
        bound: f64,
        period: Duration,
        seen: &Seen,
    ) -> Option<Finding> {
        let held = self.beyond.held(beyond, seen.at, period);
        held.then_some(Finding {
            bound,
            observed: seen.celsius,
            unit: "°C",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(at_s: u64, celsius: f64) -> Seen {
        Seen {
            at: Duration::from_secs(at_s),
            celsius,
            target_celsius: None,
            power_fraction: 0.0,
        }
    }

    #[test]
    fn the_limits_themselves_are_allowed() {
        let above = AboveMaximum {
            maximum_celsius: 300.0,
            period: Duration::ZERO,
        };
        let below = BelowMinimum {
            minimum_celsius: -15.0,
            period: Duration::ZERO,
        };
        assert_eq!(LimitWatch::default().above(&above, &seen(0, 300.0)), None);
        assert_eq!(LimitWatch::default().below(&below, &seen(0, -15.0)), None);
        let found = LimitWatch::default().above(&above, &seen(0, 300.1));
        assert_eq!(
            found,
            Some(Finding {
                bound: 300.0,
                observed: 300.1,
                unit: "°C"
            })
        );
        let found = LimitWatch::default().below(&below, &seen(0, -40.0));
        assert_eq!(
            found,
            Some(Finding {
                bound: -15.0,
                observed: -40.0,
                unit: "°C"
            })
        );
    }

    #[test]
    fn a_period_lets_a_short_excursion_pass() {
        let rule = AboveMaximum {
            maximum_celsius: 300.0,
            period: Duration::from_secs(2),
        };
        let mut watch = LimitWatch::default();
        assert_eq!(watch.above(&rule, &seen(0, 301.0)), None);
        assert_eq!(watch.above(&rule, &seen(1, 299.0)), None);
        assert_eq!(watch.above(&rule, &seen(2, 301.0)), None);
        assert_eq!(watch.above(&rule, &seen(3, 301.0)), None);
        assert!(watch.above(&rule, &seen(4, 301.0)).is_some());
    }
}
