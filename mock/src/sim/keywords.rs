//! Every keyword that a truth can hold, for those who have to know a word for each.

use super::protection::Rule;
use super::{HeaterKind, JobState, PrinterState};

impl PrinterState {
    /// Lists every state, in the order of this type.
    pub const ALL: [Self; 3] = [Self::Idle, Self::Processing, Self::Stopped];

    /// Gives the `printer-state` keyword (RFC 8011 section 5.4.11).
    pub const fn word(self) -> &'static str {
        match self {
            Self::Idle => "idle",
            Self::Processing => "processing",
            Self::Stopped => "stopped",
        }
    }
}

impl JobState {
    /// Lists every state, in the order of this type.
    pub const ALL: [Self; 7] = [
        Self::Pending,
        Self::PendingHeld,
        Self::Processing,
        Self::ProcessingStopped,
        Self::Canceled,
        Self::Aborted,
        Self::Completed,
    ];

    /// Gives the `job-state` keyword (RFC 8011 section 5.3.7).
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pending => "pending",
            Self::PendingHeld => "pending-held",
            Self::Processing => "processing",
            Self::ProcessingStopped => "processing-stopped",
            Self::Canceled => "canceled",
            Self::Aborted => "aborted",
            Self::Completed => "completed",
        }
    }
}

/// Lists the `printer-state-reasons` that the simulation can give, each once.
///
/// # Source
/// RFC 8011 section 5.4.12 and PWG 5100.21, as in the IANA IPP registry; see
/// [`Rule::state_reason`] for what protection says.
pub fn printer_reasons() -> Vec<String> {
    let mut reasons: Vec<String> = [
        "paused",
        "material-empty",
        "extruder-jam",
        "door-open",
        "door-open-warning",
        "stopping-report",
    ]
    .map(str::to_owned)
    .to_vec();
    for kind in HeaterKind::ALL {
        reasons.push(format!("{kind}-heating-report"));
        reasons.push(format!("{kind}-cooling-report"));
        for rule in Rule::ALL {
            let reason = rule.state_reason(kind);
            if !reasons.iter().any(|known| known == reason) {
                reasons.push(reason.to_owned());
            }
        }
    }
    reasons
}

/// Lists the `job-state-reasons` that the simulation can give.
///
/// # Source
/// RFC 8011 section 5.3.8.
pub const JOB_REASONS: [&str; 8] = [
    "job-printing",
    "printer-stopped",
    "processing-to-stop-point",
    "job-canceled-by-user",
    "job-canceled-at-device",
    "job-completed-successfully",
    "document-format-error",
    "aborted-by-system",
];

#[cfg(test)]
mod tests {
    use std::sync::Arc;
    use std::time::Duration;

    use super::*;
    use crate::scenario::{BUILTIN, Scenario};
    use crate::sim::{Simulation, VirtualTime};

    #[test]
    fn every_state_has_the_word_it_is_serialised_as() {
        for state in PrinterState::ALL {
            assert_eq!(serde_json::to_value(state).unwrap(), state.word());
        }
        for state in JobState::ALL {
            assert_eq!(serde_json::to_value(state).unwrap(), state.word());
        }
    }

    #[test]
    fn no_built_in_scenario_gives_a_reason_that_is_not_listed() {
        let printer = printer_reasons();
        let (mut seen, mut job_seen) = (Vec::new(), Vec::new());
        for (name, text) in BUILTIN {
            let scenario = Arc::new(Scenario::parse(name, text).unwrap());
            let mut simulation = Simulation::new(Arc::clone(&scenario), 1);
            let mut at = Duration::ZERO;
            while VirtualTime::new(at).tick() <= scenario.length {
                let truth = simulation.truth_at(VirtualTime::new(at));
                seen.extend(truth.printer.reasons);
                job_seen.extend(truth.job.into_iter().flat_map(|job| job.reasons));
                at += Duration::from_secs(20);
            }
            seen.sort();
            seen.dedup();
            job_seen.sort();
            job_seen.dedup();
        }
        assert!(seen.len() > 8, "only {seen:?} were seen");
        assert!(job_seen.len() > 4, "only {job_seen:?} were seen");
        for reason in &seen {
            assert!(printer.contains(reason), "{reason}");
        }
        for reason in &job_seen {
            assert!(JOB_REASONS.contains(&reason.as_str()), "{reason}");
        }
    }
}
