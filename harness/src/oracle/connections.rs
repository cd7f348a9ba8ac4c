//! How many connections stand open.

use std::collections::BTreeSet;

use super::asked::Asked;
use super::{Trace, Verdict};
use crate::event::EventKind;

/// So many connections to one host a client may keep at once.
///
/// # Source
/// RFC 9112 section 9.4 names no number; six are what browsers keep (common practice).
const KEPT: usize = 6;

/// Verifies that connections do not pile up: never more open at once than a browser keeps, or than
/// there are targets, and one more that is just being given up.
pub fn verify_connections_do_not_pile_up(trace: &Trace<'_>) -> Verdict {
    let asked = Asked::all(trace.events);
    let paths: BTreeSet<&str> = asked.iter().map(Asked::path).collect();
    let allowed = KEPT.max(paths.len()) + 1;
    let mut open = BTreeSet::new();
    let (mut opened, mut most) = (0_usize, 0);
    for event in trace.events {
        match &event.kind {
            EventKind::ConnectionOpened { connection } => {
                opened += 1;
                open.insert(*connection);
            }
            EventKind::ConnectionClosed { connection }
            | EventKind::ConnectionReset { connection, .. } => {
                open.remove(connection);
            }
            _ => {}
        }
        most = most.max(open.len());
        if open.len() > allowed {
            return Verdict::violated(
                event.at,
                format!("at most {allowed} connections open at once"),
                format!(
                    "{} after {} requests",
                    open.len(),
                    asked_until(&asked, event.at)
                ),
            );
        }
    }
    if asked.is_empty() {
        return Verdict::NotJudged {
            reason: "the watcher asked nothing".to_owned(),
        };
    }
    let requests = asked.len();
    Verdict::Held {
        note: format!("{opened} connections for {requests} requests, {most} at once at most"),
    }
}

fn asked_until(asked: &[Asked<'_>], at: std::time::Duration) -> usize {
    asked.partition_point(|asked| asked.at <= at)
}
