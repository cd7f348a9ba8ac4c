//! What happens, as words at a moment: all that the truth tells of it, and nothing else.

use coldbed_mock::sim::{Tick, Truth};

use super::Window;

/// Is something that happens at a moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// When.
    pub at: Tick,
    /// What, in a few words.
    pub text: String,
}

/// Collects what happens from one moment to the next.
#[derive(Debug, Default)]
pub(super) struct Marks {
    marks: Vec<Mark>,
    reasons: Vec<String>,
    job_id: Option<u32>,
}

impl Marks {
    /// Takes the moment before the first: what began earlier is told, but not as if it began now.
    pub(super) fn before(&mut self, window: Window, truth: &Truth) {
        let already = self.marks.len();
        self.see(window.from(), truth);
        for mark in self.marks.iter_mut().skip(already) {
            mark.text.insert_str(0, "earlier: ");
        }
    }

    /// Takes the next moment.
    pub(super) fn see(&mut self, at: Tick, truth: &Truth) {
        let job_id = truth.job.as_ref().map(|job| job.id);
        if job_id != self.job_id {
            self.job_id = job_id;
            self.marks.extend(truth.job.as_ref().map(|job| Mark {
                at,
                text: format!("job {}", job.name),
            }));
        }
        if truth.printer.reasons == self.reasons {
            return;
        }
        for reason in &truth.printer.reasons {
            if !is_report(reason) && !self.reasons.contains(reason) {
                self.marks.push(Mark {
                    at,
                    text: reason.clone(),
                });
            }
        }
        self.reasons.clone_from(&truth.printer.reasons);
    }

    /// Gives what happened, in order of time.
    pub(super) fn finish(mut self) -> Vec<Mark> {
        self.marks.sort_by_key(|mark| mark.at);
        self.marks
    }
}

/// Tells whether a reason affects no output (RFC 8011 section 5.4.12). Such reasons come and go
/// with each change of a target; the curves and the phases show the same.
fn is_report(reason: &str) -> bool {
    reason.ends_with("-report")
}
