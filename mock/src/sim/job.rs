//! One job from its start to its end.

use super::{JobState, JobTruth};
use crate::scenario::JobPlan;

/// Is a job that was started.
#[derive(Debug, Clone)]
pub(super) struct Job {
    id: u32,
    plan: JobPlan,
    state: JobState,
    stage: Stage,
    reason: &'static str,
    processing_ticks: u64,
    printed_ticks: u64,
}

/// Says how far a job has come, whether it moves or stands still.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stage {
    /// Some heater has not reached its target yet.
    Heating,
    /// All are hot; the whole machine warms through.
    Soaking {
        /// Ticks still to wait.
        left: u64,
    },
    /// The program runs.
    Printing,
}

impl Job {
    pub(super) fn start(id: u32, plan: JobPlan) -> Self {
        Self {
            id,
            plan,
            state: JobState::Processing,
            stage: Stage::Heating,
            reason: "job-printing",
            processing_ticks: 0,
            printed_ticks: 0,
        }
    }

    pub(super) fn state(&self) -> JobState {
        self.state
    }

    /// Tells whether the job waits for heat, be it running or standing still.
    pub(super) fn waits_for_heat(&self) -> bool {
        self.stage != Stage::Printing
    }

    /// Lets one control period pass. Gives true when the program came to its end in it.
    pub(super) fn step(&mut self, all_hot: bool) -> bool {
        if self.state != JobState::Processing {
            return false;
        }
        self.processing_ticks += 1;
        match self.stage {
            Stage::Heating if all_hot => {
                let left = self.plan.soak.0;
                self.stage = if left == 0 {
                    Stage::Printing
                } else {
                    Stage::Soaking { left }
                };
            }
            Stage::Heating => {}
            Stage::Soaking { left: 1 } => self.stage = Stage::Printing,
            Stage::Soaking { left } => self.stage = Stage::Soaking { left: left - 1 },
            Stage::Printing => {
                self.printed_ticks += 1;
                if self.printed_ticks >= self.plan.duration.0 {
                    self.end(JobState::Completed, "job-completed-successfully");
                    return true;
                }
            }
        }
        false
    }

    /// Makes the job stand still. `reason` is a keyword of RFC 8011 section 5.3.8.
    pub(super) fn stop(&mut self) {
        self.state = JobState::ProcessingStopped;
        // The printer, not the job, is the cause; the printer's own reasons say which.
        self.reason = "printer-stopped";
    }

    pub(super) fn resume(&mut self) {
        self.state = JobState::Processing;
        self.reason = "job-printing";
    }

    /// Ends the job for good.
    pub(super) fn end(&mut self, state: JobState, reason: &'static str) {
        self.state = state;
        self.reason = reason;
    }

    pub(super) fn truth(&self) -> JobTruth {
        let printed_s = seconds(self.printed_ticks);
        let duration_s = seconds(self.plan.duration.0);
        // How long heating will take is not known to the host, and a job that was given up has
        // no end to come.
        let remaining_seconds = match self.state {
            JobState::Completed => Some(0.0),
            JobState::Canceled | JobState::Aborted => None,
            _ if self.waits_for_heat() => None,
            _ => Some(duration_s - printed_s),
        };
        JobTruth {
            id: self.id,
            name: self.plan.name.clone(),
            state: self.state,
            reasons: vec![self.reason.to_owned()],
            progress_percent: 100.0 * printed_s / duration_s,
            elapsed_seconds: seconds(self.processing_ticks),
            remaining_seconds,
        }
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "a job has far fewer than 2^53 ticks"
)]
fn seconds(ticks: u64) -> f64 {
    // Divided, not multiplied: 3 * 0.1 is not 0.3 in binary, 3 / 10 is the nearest there is.
    ticks as f64 / 10.0
}
