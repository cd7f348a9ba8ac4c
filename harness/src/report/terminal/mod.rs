//! The report for people: plain text, one line a check, then what was broken and why the rest was
//! skipped.

mod details;
mod lines;
mod list;
mod look;
mod progress;
mod skips;

use std::fmt::Write as _;

pub use details::details;
pub use lines::Lines;
pub use list::list;
pub use look::Look;
pub use progress::Progress;
pub use skips::skips;

use super::{Counts, ReportHead};

/// Says what was measured before anything was judged.
pub fn heading(head: &ReportHead, checks: usize, look: Look) -> String {
    let measured = &head.calibration;
    let part = match &head.part {
        Some(part) => format!(" (part {part})"),
        None => String::new(),
    };
    let plural = if checks == 1 { "" } else { "s" };
    let words = format!(
        "the watcher asks every {:.2} s (at most {:.2} s); {checks} check{plural}{part}, seed {}",
        measured.interval_seconds, measured.longest_interval_seconds, head.seed
    );
    look.wrapped("", &words)
}

/// Counts the verdicts in one line.
pub fn summary(counts: Counts) -> String {
    let mut text = format!("\n{counts}\n");
    if counts.mended > 0 {
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "some are mended [write a new baseline with --report json=FILE]"
        );
    }
    text
}
