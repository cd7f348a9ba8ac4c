//! Running away upwards.

use std::time::Duration;

use super::super::error::{ProtectionError, kelvin};
use super::super::trip::{Finding, Rule};
use super::dwell::Dwell;
use super::{Seen, same_target};

/// Trips when the reading is above the target by more than a bound for a period; at once with a period of nothing.
///
/// After the target was lowered the part is above it for minutes without fault. So until it has cooled, the lowest
/// reading since the target was set stands in for the target: cooling is fine, rising again is not.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AboveTarget {
    /// How far above the target is still fine.
    pub above_target_kelvin: f64,
    /// How long the reading may be higher.
    pub period: Duration,
    /// Whether to watch with the heater off too, against the lowest reading since. Catches a switch stuck on long
    /// before the maximum does; trips without fault on a nozzle that a bed below it warms by more than the bound.
    pub also_when_off: bool,
}

impl AboveTarget {
    pub(in super::super) fn check(&self) -> Result<(), ProtectionError> {
        kelvin(
            Rule::AboveTarget,
            "distance above target",
            self.above_target_kelvin,
        )
    }
}

#[derive(Clone, Copy, Debug, Default)]
pub(in super::super) struct AboveTargetWatch {
    target_celsius: Option<f64>,
    lowest_celsius: Option<f64>,
    beyond: Dwell,
}

impl AboveTargetWatch {
    /// Gives the range in which the lowest reading does not matter or does not change.
    pub(in super::super) fn calm(
        &self,
        rule: &AboveTarget,
        target_celsius: Option<f64>,
    ) -> Option<(f64, f64)> {
        let lowest = self.lowest_celsius?;
        match target_celsius {
            Some(target) if lowest <= target => {
                Some((f64::NEG_INFINITY, target + rule.above_target_kelvin))
            }
            Some(_) => None,
            None if rule.also_when_off => Some((lowest, lowest + rule.above_target_kelvin)),
            None => Some((f64::NEG_INFINITY, f64::INFINITY)),
        }
    }

    pub(in super::super) fn observe(&mut self, rule: &AboveTarget, seen: &Seen) -> Option<Finding> {
        if !same_target(self.target_celsius, seen.target_celsius) {
            *self = Self {
                target_celsius: seen.target_celsius,
                ..Self::default()
            };
        }
        let lowest = self
            .lowest_celsius
            .map_or(seen.celsius, |lowest| lowest.min(seen.celsius));
        self.lowest_celsius = Some(lowest);
        let reference = seen
            .target_celsius
            .map_or(lowest, |target| target.max(lowest));
        let bound = reference + rule.above_target_kelvin;
        let watched = seen.target_celsius.is_some() || rule.also_when_off;
        let held = self
            .beyond
            .held(watched && seen.celsius > bound, seen.at, rule.period);
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

    const RULE: AboveTarget = AboveTarget {
        above_target_kelvin: 25.0,
        period: Duration::ZERO,
        also_when_off: false,
    };

    fn seen(at_s: u64, celsius: f64, target_celsius: Option<f64>) -> Seen {
        Seen {
            at: Duration::from_secs(at_s),
            celsius,
            target_celsius,
            power_fraction: 0.0,
        }
    }

    #[test]
    fn cooling_towards_a_lowered_target_is_fine_and_rising_again_is_not() {
        let mut watch = AboveTargetWatch::default();
        assert_eq!(watch.observe(&RULE, &seen(0, 250.0, Some(250.0))), None);
        assert_eq!(watch.observe(&RULE, &seen(1, 250.0, Some(180.0))), None);
        assert_eq!(watch.observe(&RULE, &seen(60, 220.0, Some(180.0))), None);
        assert_eq!(watch.observe(&RULE, &seen(70, 245.0, Some(180.0))), None);
        let found = watch.observe(&RULE, &seen(71, 245.5, Some(180.0)));
        assert_eq!(
            found,
            Some(Finding {
                bound: 245.0,
                observed: 245.5,
                unit: "°C"
            })
        );
    }

    #[test]
    fn once_cooled_the_target_itself_counts() {
        let mut watch = AboveTargetWatch::default();
        assert_eq!(watch.observe(&RULE, &seen(0, 250.0, Some(180.0))), None);
        assert_eq!(watch.observe(&RULE, &seen(600, 179.0, Some(180.0))), None);
        let found = watch.observe(&RULE, &seen(700, 205.1, Some(180.0)));
        assert_eq!(
            found,
            Some(Finding {
                bound: 205.0,
                observed: 205.1,
                unit: "°C"
            })
        );
    }

    #[test]
    fn a_switched_off_heater_is_watched_only_on_request() {
        for (also_when_off, trips) in [(false, false), (true, true)] {
            let rule = AboveTarget {
                also_when_off,
                ..RULE
            };
            let mut watch = AboveTargetWatch::default();
            assert_eq!(watch.observe(&rule, &seen(0, 25.0, None)), None);
            assert_eq!(watch.observe(&rule, &seen(30, 51.0, None)).is_some(), trips);
        }
    }

    #[test]
    fn an_overshoot_shorter_than_the_period_passes() {
        let rule = AboveTarget {
            period: Duration::from_secs(5),
            ..RULE
        };
        let mut watch = AboveTargetWatch::default();
        assert_eq!(watch.observe(&rule, &seen(0, 200.0, Some(200.0))), None);
        assert_eq!(watch.observe(&rule, &seen(1, 226.0, Some(200.0))), None);
        assert_eq!(watch.observe(&rule, &seen(5, 224.0, Some(200.0))), None);
        assert_eq!(watch.observe(&rule, &seen(6, 226.0, Some(200.0))), None);
        assert!(
            watch
                .observe(&rule, &seen(11, 226.0, Some(200.0)))
                .is_some()
        );
    }
}
