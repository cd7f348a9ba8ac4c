//! Below the target after it had been reached.

use std::time::Duration;

use super::super::error::{ProtectionError, kelvin, period, within};
use super::super::trip::{Finding, Rule};
use super::dwell::Dwell;
use super::{Seen, same_target};

/// Trips when the reading, after having reached the target, is below it by more than a bound for a period: the
/// sensor fell out, the heater came loose, or something cools more than the heater can give.
///
/// A new target has to be reached first; a lowered one is reached at once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FallenAway {
    /// How far below the target is still fine.
    pub below_target_kelvin: f64,
    /// How close below the target counts as reached, no more than `below_target_kelvin`.
    pub reached_within_kelvin: f64,
    /// How long the reading may be lower, without a break.
    pub period: Duration,
}

impl FallenAway {
    pub(in super::super) fn check(&self) -> Result<(), ProtectionError> {
        kelvin(
            Rule::FallenAway,
            "distance below target",
            self.below_target_kelvin,
        )?;
        let range = [0.0, self.below_target_kelvin];
        within(
            Rule::FallenAway,
            "reached window",
            self.reached_within_kelvin,
            "K",
            range,
        )?;
        period(Rule::FallenAway, self.period)
    }
}

#[derive(Clone, Copy, Debug, Default)]
pub(in super::super) struct FallenAwayWatch {
    target_celsius: Option<f64>,
    reached: bool,
    below: Dwell,
}

impl FallenAwayWatch {
    /// Gives the range in which a reached target stays reached and nothing has fallen.
    pub(in super::super) fn calm(&self, rule: &FallenAway, target: f64) -> Option<(f64, f64)> {
        self.reached
            .then_some((target - rule.below_target_kelvin, f64::INFINITY))
    }

    pub(in super::super) fn observe(&mut self, rule: &FallenAway, seen: &Seen) -> Option<Finding> {
        if !same_target(self.target_celsius, seen.target_celsius) {
            *self = Self {
                target_celsius: seen.target_celsius,
                ..Self::default()
            };
        }
        let target = seen.target_celsius?;
        self.reached |= seen.celsius >= target - rule.reached_within_kelvin;
        let bound = target - rule.below_target_kelvin;
        let held = self
            .below
            .held(self.reached && seen.celsius < bound, seen.at, rule.period);
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

    const RULE: FallenAway = FallenAway {
        below_target_kelvin: 10.0,
        reached_within_kelvin: 2.0,
        period: Duration::from_secs(30),
    };

    fn seen(at_s: u64, celsius: f64, target_celsius: f64) -> Seen {
        Seen {
            at: Duration::from_secs(at_s),
            celsius,
            target_celsius: Some(target_celsius),
            power_fraction: 1.0,
        }
    }

    #[test]
    fn a_target_not_reached_yet_cannot_be_fallen_from() {
        let mut watch = FallenAwayWatch::default();
        assert!((0..600).all(|at_s| watch.observe(&RULE, &seen(at_s, 207.9, 210.0)).is_none()));
        assert!((600..700).all(|at_s| watch.observe(&RULE, &seen(at_s, 100.0, 210.0)).is_none()));
    }

    #[test]
    fn trips_after_the_period_and_not_before() {
        let mut watch = FallenAwayWatch::default();
        assert_eq!(watch.observe(&RULE, &seen(0, 208.0, 210.0)), None);
        assert!((1..=30).all(|at_s| watch.observe(&RULE, &seen(at_s, 199.9, 210.0)).is_none()));
        let found = watch.observe(&RULE, &seen(31, 199.9, 210.0));
        assert_eq!(
            found,
            Some(Finding {
                bound: 200.0,
                observed: 199.9,
                unit: "°C"
            })
        );
    }

    #[test]
    fn a_raised_target_starts_anew() {
        let mut watch = FallenAwayWatch::default();
        assert_eq!(watch.observe(&RULE, &seen(0, 210.0, 210.0)), None);
        assert!((1..100).all(|at_s| watch.observe(&RULE, &seen(at_s, 210.0, 250.0)).is_none()));
    }

    #[test]
    fn a_reached_window_wider_than_the_bound_is_refused() {
        let refusal = FallenAway {
            reached_within_kelvin: 11.0,
            ..RULE
        }
        .check()
        .unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "fallen-away: reached window is 11 K, outside 0 to 10 K"
        );
    }
}
