//! Why checks were skipped, each reason once.

use super::super::legible::legible;
use super::super::{CheckReport, OutcomeWord};
use super::Look;

/// Writes each reason with the checks that were skipped for it; nothing where none was.
pub fn skips(checks: &[CheckReport], look: Look) -> String {
    let mut reasons: Vec<(&str, Vec<&str>)> = Vec::new();
    for check in checks {
        if check.outcome != OutcomeWord::Skipped {
            continue;
        }
        match reasons
            .iter_mut()
            .find(|(reason, _)| *reason == check.reason)
        {
            Some((_, ids)) => ids.push(&check.id),
            None => reasons.push((&check.reason, vec![&check.id])),
        }
    }
    if reasons.is_empty() {
        return String::new();
    }
    let mut text = format!("\n{}\n", look.bold("skipped"));
    for (reason, ids) in reasons {
        text.push_str(&look.wrapped("  ", &legible(reason)));
        text.push_str(&look.wrapped("    ", &ids.join(", ")));
    }
    text
}
