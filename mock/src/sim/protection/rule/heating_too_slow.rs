//! Heated, and does not rise.

use std::time::Duration;

use super::super::error::{ProtectionError, kelvin, period, within};
use super::super::trip::{Finding, Rule};
use super::Seen;

/// Trips when the reading rises by less than a bound within a period of heating.
///
/// Heating means that the power is at least `at_power_fraction` and the reading more than `below_target_kelvin`
/// below the target, both without a break. Set the first to 0 to go by the distance alone, the second to 0 to go
/// by the power alone. Each time the reading has risen by the bound, the period starts anew, so that a heater which
/// fails half way up is found one period later.
///
/// Noise can look like a rise: over a period of many readings it spans some six standard deviations, so the rise
/// asked for should be more than that.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeatingTooSlow {
    /// The rise asked for.
    pub rise_kelvin: f64,
    /// The time it has for that; longer than the dead time of the plant.
    pub period: Duration,
    /// Power from which on it counts as heating, 0 to 1.
    pub at_power_fraction: f64,
    /// Distance below the target from which on it counts as heating.
    pub below_target_kelvin: f64,
}

impl HeatingTooSlow {
    pub(in super::super) fn check(&self) -> Result<(), ProtectionError> {
        let rule = Rule::HeatingTooSlow;
        kelvin(rule, "rise", self.rise_kelvin)?;
        period(rule, self.period)?;
        within(
            rule,
            "power",
            self.at_power_fraction,
            "of full power",
            [0.0, 1.0],
        )?;
        within(
            rule,
            "distance below target",
            self.below_target_kelvin,
            "K",
            [0.0, 1000.0],
        )
    }
}

#[derive(Clone, Copy, Debug, Default)]
pub(in super::super) struct HeatingTooSlowWatch {
    /// When the present period began, and the reading then.
    start: Option<(Duration, f64)>,
}

impl HeatingTooSlowWatch {
    pub(in super::super) fn observe(
        &mut self,
        rule: &HeatingTooSlow,
        seen: &Seen,
    ) -> Option<Finding> {
        let missing_kelvin = seen
            .target_celsius
            .map_or(f64::NEG_INFINITY, |target| target - seen.celsius);
        if missing_kelvin <= rule.below_target_kelvin
            || seen.power_fraction < rule.at_power_fraction
        {
            self.start = None;
            return None;
        }
        let (since, from_celsius) = *self.start.get_or_insert((seen.at, seen.celsius));
        let risen_kelvin = seen.celsius - from_celsius;
        if risen_kelvin >= rule.rise_kelvin {
            self.start = Some((seen.at, seen.celsius));
            return None;
        }
        (seen.at.saturating_sub(since) >= rule.period).then_some(Finding {
            bound: rule.rise_kelvin,
            observed: risen_kelvin,
            unit: "K",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULE: HeatingTooSlow = HeatingTooSlow {
        rise_kelvin: 2.0,
        period: Duration::from_secs(20),
        at_power_fraction: 0.95,
        below_target_kelvin: 5.0,
    };

    fn seen(at_s: u64, celsius: f64, power_fraction: f64) -> Seen {
        Seen {
            at: Duration::from_secs(at_s),
            celsius,
            target_celsius: Some(210.0),
            power_fraction,
        }
    }

    #[test]
    fn trips_after_the_period_and_not_before() {
        let mut watch = HeatingTooSlowWatch::default();
        assert!((100..120).all(|at_s| watch.observe(&RULE, &seen(at_s, 26.9, 1.0)).is_none()));
        let found = watch.observe(&RULE, &seen(120, 26.9, 1.0)).unwrap();
        assert_eq!(
            found,
            Finding {
                bound: 2.0,
                observed: 0.0,
                unit: "K"
            }
        );
    }

    // Rises 1/8 K/s for 60 s, 2 K in 16 s: periods start at 0, 16, 32, 48. Then it stands still, 1.5 K above the
    // start of the last period, which ends at 48 + 20.
    #[test]
    fn a_heater_that_fails_half_way_is_found_one_period_later() {
        let mut watch = HeatingTooSlowWatch::default();
        let celsius = |at_s: u64| 25.0 + at_s.min(60) as f64 / 8.0;
        let tripped = (0..200).find(|&at_s| {
            watch
                .observe(&RULE, &seen(at_s, celsius(at_s), 1.0))
                .is_some()
        });
        assert_eq!(tripped, Some(68));
    }

    #[test]
    fn low_power_and_a_near_target_are_no_heating() {
        let mut watch = HeatingTooSlowWatch::default();
        assert!((0..100).all(|at_s| watch.observe(&RULE, &seen(at_s, 100.0, 0.94)).is_none()));
        assert!((100..200).all(|at_s| watch.observe(&RULE, &seen(at_s, 205.0, 1.0)).is_none()));
        let off = Seen {
            target_celsius: None,
            ..seen(300, 25.0, 1.0)
        };
        assert_eq!(watch.observe(&RULE, &off), None);
        let later = Seen {
            at: Duration::from_secs(400),
            ..off
        };
        assert_eq!(watch.observe(&RULE, &later), None);
    }

    #[test]
    fn a_pause_in_heating_starts_the_period_anew() {
        let mut watch = HeatingTooSlowWatch::default();
        assert!((0..19).all(|at_s| watch.observe(&RULE, &seen(at_s, 50.0, 1.0)).is_none()));
        assert_eq!(watch.observe(&RULE, &seen(19, 50.0, 0.0)), None);
        let tripped =
            (20..100).find(|&at_s| watch.observe(&RULE, &seen(at_s, 50.0, 1.0)).is_some());
        assert_eq!(tripped, Some(40));
    }
}
