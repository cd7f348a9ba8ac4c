//! Which answers reached a watcher, and when at the latest.

use std::collections::BTreeMap;
use std::time::Duration;

use coldbed_mock::fault::{Fault, Position};
use coldbed_mock::sim::Truth;

use super::Owed;
use super::window::Window;
use crate::event::{EventKind, ExchangeNumber};
use crate::oracle::{Harm, Trace, harm};

/// Is an answer that claims may rest on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reached<'a> {
    /// When it was there at the earliest.
    pub(super) from: Duration,
    /// When it was there at the latest: an answer is told before it is held up.
    pub(super) until: Duration,
    /// What it told.
    pub(super) truth: &'a Truth,
}

/// Gives the answers that count under what is owed, in the order in which they were sent.
pub(super) fn collect<'a>(trace: &Trace<'a>, owed: Owed, window: Window) -> Vec<Reached<'a>> {
    let met = met(trace);
    let mut reached = Vec::new();
    for event in trace.events {
        let at = event.at;
        match &event.kind {
            EventKind::Answer {
                status: 200 | 304,
                exchange,
                truth,
                body,
                ..
            } => {
                let worst = worst(met.get(exchange), body.len());
                let late = window.cleared.max(at);
                let span = match (owed, worst) {
                    // What is held up comes when the fault is over, whole or not at all.
                    (Owed::Unknown, Harm::Late) => Some((late, late)),
                    (Owed::Right, Harm::Withheld) => None,
                    (Owed::Unknown, Harm::Withheld) => None,
                    (_, Harm::Late) => Some((at, late)),
                    _ => Some((at, at)),
                };
                reached.extend(span.map(|(from, until)| Reached { from, until, truth }));
            }
            EventKind::Pushed { truth, .. } => reached.push(Reached {
                from: at,
                until: at,
                truth,
            }),
            _ => {}
        }
    }
    reached
}

/// Gives what the answers told that never came whole while the fault was in force.
pub(super) fn spoilt<'a>(trace: &Trace<'a>, window: Window) -> Vec<&'a Truth> {
    let met = met(trace);
    let within = |at: Duration| at >= window.raised && at <= window.cleared;
    let events = trace.events.iter().filter(|event| within(event.at));
    events
        .filter_map(|event| match &event.kind {
            EventKind::Answer {
                status: 200,
                exchange,
                truth,
                body,
                ..
            } if worst(met.get(exchange), body.len()) != Harm::None => Some(&**truth),
            _ => None,
        })
        .collect()
}

/// Gives the faults that had a part in each exchange.
fn met<'a>(trace: &Trace<'a>) -> BTreeMap<ExchangeNumber, Vec<&'a Fault>> {
    let mut met: BTreeMap<_, Vec<_>> = BTreeMap::new();
    for event in trace.events {
        if let EventKind::FaultHappened {
            exchange: Some(exchange),
            fault,
            ..
        } = &event.kind
        {
            met.entry(*exchange).or_default().push(&fault.fault);
        }
    }
    met
}

/// Gives the worst that faults have done to an answer with a body of so many bytes.
fn worst(faults: Option<&Vec<&Fault>>, body_bytes: usize) -> Harm {
    let harms = faults.into_iter().flatten().map(|fault| match fault {
        // It was over by then and came whole.
        Fault::Reset { at } | Fault::Close { at } | Fault::Stall { at }
            if matches!(at, Position::BodyByte(byte) if *byte >= body_bytes as u64) =>
        {
            Harm::None
        }
        fault => harm(fault),
    });
    harms.fold(Harm::None, |known, new| match (known, new) {
        (Harm::Withheld, _) | (_, Harm::Withheld) => Harm::Withheld,
        (Harm::Late, _) | (_, Harm::Late) => Harm::Late,
        (known, Harm::None) => known,
        (_, new) => new,
    })
}
