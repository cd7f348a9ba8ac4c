//! A plan of troubles.

use std::fmt;
use std::time::Duration;

use coldbed_mock::sim::Trouble;

/// The grid of a plan: troubles begin and end at whole beats of virtual time.
///
/// How long a beat lasts in real time depends on the watcher; the plan does not, so that the same seed
/// gives the same plans.
pub const BEAT: Duration = Duration::from_secs(60);

/// Is a fault or a drift for a while.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedTrouble {
    /// When it begins, in beats from the start.
    pub begins: u32,
    /// For how many beats it lasts, at least 1.
    pub lasts: u32,
    /// What it is.
    pub trouble: Trouble,
}

/// Is some troubles on one scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct TroublePlan {
    /// The troubles.
    pub troubles: Vec<PlannedTrouble>,
}

impl PlannedTrouble {
    /// Gives the beat at which it is over.
    pub fn ends(&self) -> u32 {
        self.begins.saturating_add(self.lasts)
    }
}

impl TroublePlan {
    /// Gives the beat at which the last trouble is over.
    pub fn ends(&self) -> u32 {
        self.troubles
            .iter()
            .map(PlannedTrouble::ends)
            .max()
            .unwrap_or(0)
    }

    /// Gives the troubles in the order in which they begin.
    pub fn in_order(&self) -> Vec<&PlannedTrouble> {
        let mut troubles: Vec<_> = self.troubles.iter().collect();
        troubles.sort_by_key(|trouble| trouble.begins);
        troubles
    }
}

impl fmt::Display for PlannedTrouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.trouble {
            Trouble::Fault(fault) => write!(f, "{fault}")?,
            Trouble::Drift(drift) => f.write_str(drift.explain().trim_end_matches('.'))?,
        }
        write!(f, ", from {}m for {}m", self.begins, self.lasts)
    }
}

impl fmt::Display for TroublePlan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, trouble) in self.in_order().into_iter().enumerate() {
            let sep = if index == 0 { "" } else { "; " };
            write!(f, "{sep}{trouble}")?;
        }
        Ok(())
    }
}
