//! No temperature for too long.

use std::time::Duration;

use super::super::trip::Finding;
use super::dwell::Dwell;

/// Trips when the host has had no temperature for a period; at once with a period of nothing.
///
/// Watched with the heater off as well: nobody should switch it on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SensorLost {
    /// How long the temperature may be missing.
    pub period: Duration,
}

#[derive(Clone, Copy, Debug, Default)]
pub(in super::super) struct SensorLostWatch {
    missing: Dwell,
}

impl SensorLostWatch {
    pub(in super::super) fn observe(
        &mut self,
        rule: &SensorLost,
        at: Duration,
        missing: bool,
    ) -> Option<Finding> {
        let length = self.missing.length(missing, at)?;
        (length >= rule.period).then_some(Finding {
            bound: rule.period.as_secs_f64(),
            observed: length.as_secs_f64(),
            unit: "s",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trips_after_the_period_and_not_before() {
        let rule = SensorLost {
            period: Duration::from_secs(1),
        };
        let mut watch = SensorLostWatch::default();
        let mut observe =
            |at_ms, missing| watch.observe(&rule, Duration::from_millis(at_ms), missing);
        assert_eq!(observe(0, true), None);
        assert_eq!(observe(900, true), None);
        // One reading between starts the period anew.
        assert_eq!(observe(1000, false), None);
        assert_eq!(observe(1100, true), None);
        assert_eq!(observe(2000, true), None);
        assert_eq!(
            observe(2100, true),
            Some(Finding {
                bound: 1.0,
                observed: 1.0,
                unit: "s"
            })
        );
    }

    #[test]
    fn trips_at_once_with_a_period_of_nothing() {
        let mut watch = SensorLostWatch::default();
        let found = watch.observe(
            &SensorLost {
                period: Duration::ZERO,
            },
            Duration::from_secs(5),
            true,
        );
        assert!(found.is_some());
    }
}
