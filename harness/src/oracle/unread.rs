//! Lines that were meant as claims and could not be read: the reason why an old claim still stands.

use super::Verdict;
use crate::event::{Event, EventKind};

/// So much of a line tells which it is (own choice).
const SHOWN: usize = 120;

/// Adds to what was observed the line that the watcher wrote since its last claim, if there is one that
/// looks like JSON and could not be read. Other lines are chatter.
pub fn with_unread_lines(verdict: Verdict, events: &[Event]) -> Verdict {
    let Verdict::Violated(mut violations) = verdict else {
        return verdict;
    };
    for violation in &mut violations {
        let until = events.partition_point(|event| event.at <= violation.at);
        let since_claim = events[..until]
            .iter()
            .rev()
            .take_while(|event| !matches!(event.kind, EventKind::Sighting(_)));
        let unread = since_claim.filter_map(|event| match &event.kind {
            EventKind::Line { text, .. } if text.trim_start().starts_with('{') => Some(text),
            _ => None,
        });
        if let Some(line) = unread.last() {
            let shown: String = line.chars().take(SHOWN).collect();
            let cut = if shown.len() < line.len() { "…" } else { "" };
            violation
                .observed
                .push_str(&format!("; its next line is no sighting: {shown}{cut}"));
        }
    }
    Verdict::Violated(violations)
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::watcher::Sighting;

    fn observed(lines: &[&str]) -> String {
        let event = |at, kind| Event {
            at: Duration::from_secs(at),
            kind,
        };
        let line = |text: &&str| EventKind::Line {
            on_stderr: false,
            text: (*text).to_owned(),
        };
        let first = event(1, EventKind::Sighting(Sighting::new()));
        let others = (2..).zip(lines.iter().map(line));
        let others = others.map(|(at, kind)| event(at, kind));
        let events: Vec<Event> = std::iter::once(first).chain(others).collect();
        let verdict = Verdict::violated(Duration::from_secs(9), "unknown", "phase finished");
        match with_unread_lines(verdict, &events) {
            Verdict::Violated(violations) => violations[0].observed.clone(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_line_that_was_meant_as_a_claim_is_told_where_an_old_claim_stands() {
        let unread = "{\"progress-percent\": NaN}";
        let told = format!("phase finished; its next line is no sighting: {unread}");
        assert_eq!(observed(&["no usable answer", unread, "{..."]), told);
    }

    #[test]
    fn chatter_is_not_told() {
        assert_eq!(observed(&["no usable answer"]), "phase finished");
        assert_eq!(observed(&[]), "phase finished");
    }

    #[test]
    fn a_long_line_is_cut() {
        let long = format!("{{{}", "ä".repeat(500));
        let told = observed(&[&long]);
        assert!(told.ends_with("ää…"), "{told}");
        assert!(told.chars().count() < 200);
    }
}
