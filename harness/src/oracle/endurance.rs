//! Whether what a watcher uses grows with its polls.

use super::asked::{Trouble, polls};
use super::growth::{ALLOCATOR_STEP_BYTES, Growing, Growth, Sample, grows};
use super::{Trace, Verdict};
use crate::event::{Event, EventKind};
use crate::watcher::Resources;

/// Verifies that resident memory does not grow by more than 256 bytes a poll (own choice: at a poll a
/// second 22 MB a day).
///
/// Growth is held against a watcher only where it is more than a collector of garbage leaves lying
/// before it first looks; what lies between is not judged.
pub fn verify_memory_does_not_grow(trace: &Trace<'_>) -> Verdict {
    let measure = Measure {
        what: "memory",
        unit: "bytes",
        allowed_per_poll: 256.0,
        left_lying: garbage,
        resolution: ALLOCATOR_STEP_BYTES,
        decimals: 0,
        of: |resources| count(resources.resident_bytes),
    };
    trace
        .verify_alive()
        .and_then(|| measure.verify(trace.events))
}

/// Gives by how much memory may rise that nobody has looked through yet, in a process of such a size.
///
/// # Source
/// From memory: the collector of a common compiled language lets its heap grow to 4 MiB before it
/// looks for the first time; that of a common script engine has young spaces of 16 MiB, of which there
/// are three, and an old one beside them that grows in steps. No such engine runs in less than 30 MB.
fn garbage(least_bytes: f64) -> f64 {
    const MIB: f64 = 1_048_576.0;
    if least_bytes < 30e6 {
        4.0 * MIB
    } else {
        64.0 * MIB
    }
}

/// Verifies that no more than one file in fifty polls is left open (own choice: a limit of 1024 is
/// then reached within a day at a poll a second).
pub fn verify_open_files_do_not_grow(trace: &Trace<'_>) -> Verdict {
    let alive = trace.verify_alive();
    alive.and_then(|| open_files(0.02).verify(trace.events))
}

/// Verifies that while every answer is cut off no more than one file in ten polls is left open (own
/// choice: fewer polls are made meanwhile, by who backs off, and less can be told of them).
pub fn verify_open_files_do_not_grow_with_failures(trace: &Trace<'_>) -> Verdict {
    let alive = trace.verify_alive();
    alive.and_then(|| match Trouble::first(trace.events) {
        Some(trouble) => open_files(0.1).verify(trouble.events),
        None => Verdict::NotJudged {
            reason: "the fault was never raised".to_owned(),
        },
    })
}

fn open_files(allowed_per_poll: f64) -> Measure {
    Measure {
        what: "open files",
        unit: "files",
        allowed_per_poll,
        left_lying: |_| 0.0,
        resolution: 1.0,
        decimals: 3,
        of: |resources| count(resources.open_files),
    }
}

/// Is something that may grow.
struct Measure {
    what: &'static str,
    unit: &'static str,
    allowed_per_poll: f64,
    /// What may rise in all without being a growth, by the least that there was.
    left_lying: fn(f64) -> f64,
    resolution: f64,
    decimals: usize,
    of: fn(&Resources) -> f64,
}

impl Measure {
    fn verify(&self, events: &[Event]) -> Verdict {
        let samples = self.samples(events);
        if samples.is_empty() {
            let what = self.what;
            return Verdict::NotJudged {
                reason: format!(
                    "{what}: nothing could be measured, as of a device or without /proc"
                ),
            };
        }
        let asked = polls(events).len();
        let growth = match Growth::of(&samples, self.resolution) {
            Ok(growth) => growth,
            Err(error) => {
                return Verdict::NotJudged {
                    reason: format!("{}: {error}, in {asked} polls", self.what),
                };
            }
        };
        let (unit, decimals) = (self.unit, self.decimals);
        let words = format!(
            "{:.decimals$} {unit} a poll, {:.decimals$} to {:.decimals$} at 99 %, over {asked} polls",
            growth.per_poll, growth.low, growth.high
        );
        let sure = self.allowed_per_poll.max(self.left_lying(&samples));
        match (grows(&growth, self.allowed_per_poll), grows(&growth, sure)) {
            (_, Growing::Yes) => {
                let at = events
                    .last()
                    .map_or_else(Default::default, |event| event.at);
                let allowed = format!(
                    "{} that grow by at most {} {unit} a poll",
                    self.what, self.allowed_per_poll
                );
                Verdict::violated(at, allowed, words)
            }
            (Growing::No, _) => Verdict::Held { note: words },
            (Growing::Yes, _) => Verdict::NotJudged {
                reason: format!("it may be garbage that is not collected yet: {words}"),
            },
            (Growing::CannotTell, _) => Verdict::NotJudged {
                reason: format!("too few polls to tell: {words}"),
            },
        }
    }

    /// Gives the rise that is no growth, shared out over the polls that are looked at.
    fn left_lying(&self, samples: &[Sample]) -> f64 {
        // A quarter is warm-up.
        let kept = &samples[samples.len() / 4..];
        let least = kept.iter().map(|sample| sample.value);
        let least = least.fold(f64::INFINITY, f64::min);
        let polls = match kept {
            [first, .., last] => last.polls - first.polls,
            _ => 0.0,
        };
        (self.left_lying)(least) / polls.max(1.0)
    }

    /// Gives each sample with the polls until then.
    fn samples(&self, events: &[Event]) -> Vec<Sample> {
        let polls = polls(events);
        let sample = |event: &Event| match &event.kind {
            EventKind::Resources(resources) => Some(Sample {
                polls: count(polls.partition_point(|at| *at <= event.at) as u64),
                value: (self.of)(resources),
            }),
            _ => None,
        };
        events.iter().filter_map(sample).collect()
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "bytes and files of a process are far below 2^53"
)]
fn count(number: u64) -> f64 {
    number as f64
}
