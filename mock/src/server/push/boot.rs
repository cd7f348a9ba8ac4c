//! Which run of the host's program something was seen in.

use crate::sim::Truth;

/// Names the run of the host's program that a truth belongs to, by when it began.
///
/// The host may go down and come up between two looks (at a high rate of the clock that takes no
/// time at all). Its connections and what it remembers do not live through that, and the look after
/// can tell from the up-time alone.
#[derive(Debug, Clone, Copy)]
pub(super) struct Boot {
    /// Seconds of virtual time; negative when it ran before the scenario's start.
    began_s: i64,
}

/// How far the beginning computed from two truths of one run may lie apart, in seconds: the
/// up-time is whole seconds, rounded down, and at least 1.
const ROUNDING_S: u64 = 2;

impl Boot {
    pub(super) fn of(truth: &Truth) -> Self {
        let at_s = i64::try_from(truth.at.since_start().as_secs()).unwrap_or(i64::MAX);
        let up_s = i64::try_from(truth.printer.up_time_seconds).unwrap_or(i64::MAX);
        Self {
            began_s: at_s.saturating_sub(up_s),
        }
    }

    /// Tells whether two truths belong to one run.
    pub(super) fn is_same(self, other: Self) -> bool {
        self.began_s.abs_diff(other.began_s) <= ROUNDING_S
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;
    use std::time::Duration;

    use super::*;
    use crate::scenario::Scenario;
    use crate::sim::{Simulation, VirtualTime};

    /// Gives the run at moments of a scenario, in ms.
    fn boots(scenario: &str, moments: impl IntoIterator<Item = u64>) -> Vec<Boot> {
        let scenario = Scenario::builtin(scenario).unwrap().unwrap();
        let mut simulation = Simulation::new(Arc::new(scenario), 1);
        moments
            .into_iter()
            .map(|ms| VirtualTime::new(Duration::from_millis(ms)))
            .map(|at| Boot::of(&simulation.truth_at(at)))
            .collect()
    }

    #[test]
    fn all_truths_of_one_run_have_the_same_boot() {
        let boots = boots("printing", (0..200).map(|tenth| tenth * 5_100));
        assert!(boots.iter().all(|boot| boot.is_same(boots[0])));
    }

    #[test]
    fn a_restart_that_nobody_saw_is_seen_afterwards() {
        // Away from 20 min on for 40 s.
        let boots = boots("host-restart", [19 * 60_000, 21 * 60_000, 22 * 60_000]);
        assert!(!boots[0].is_same(boots[1]));
        assert!(boots[1].is_same(boots[2]));
    }
}
