//! Which answers may have been understood, and when they had arrived.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use coldbed_mock::dialect::Dialect;
use coldbed_mock::drift::{Change, Drift, DriftClass, Stage};
use coldbed_mock::fault::{Fault, Position, ScopedFault};
use coldbed_mock::sim::Truth;

use super::places::maps_of_heaters;
use super::troubles::Span;
use crate::event::{Event, EventKind};
use crate::oracle::Trace;

/// Is an answer that may have been understood.
#[derive(Debug)]
pub(super) struct Told<'e> {
    /// When it went out.
    pub(super) at: Duration,
    /// When it was there as a whole, at the latest.
    pub(super) arrives: Duration,
    /// What was true.
    pub(super) truth: &'e Truth,
    /// Whether nothing at all stood in the way, so that it must have been understood.
    pub(super) is_sure: bool,
    /// How many sure ones there were in a row, this one included.
    pub(super) run: usize,
    /// It says that nothing has changed, whatever has.
    pub(super) says_nothing_new: bool,
    /// The drifts that were in force and are not compatible.
    pub(super) drifts: Vec<Drift>,
}

/// What a head has besides the fields that are told, and room to spare (own choice).
const HEAD_BYTES: usize = 1024;

/// Sorts the answers of a run. Where the members of an object are heaters, the dialect knows.
pub(super) fn told<'e>(trace: &Trace<'e>, spans: &[Span], dialect: &Dialect) -> Vec<Told<'e>> {
    let met = Met::of(trace.events);
    let first = trace.events.iter().find_map(Answer::of);
    let maps = match first {
        Some(first) if spans.iter().filter_map(Span::drift).any(adds_a_member) => {
            maps_of_heaters(dialect, first.truth)
        }
        _ => Vec::new(),
    };
    let mut all: Vec<Told<'e>> = Vec::new();
    let mut run = 0;
    for event in trace.events {
        let Some(answer) = Answer::of(event) else {
            if matches!(event.kind, EventKind::Answer { .. }) {
                // Another status tells nothing.
                run = 0;
            }
            continue;
        };
        match judge(&answer, trace, &met, spans, &maps) {
            None => run = 0,
            Some(mut told) => {
                run = if told.is_sure { run + 1 } else { 0 };
                told.run = run;
                all.push(told);
            }
        }
    }
    all
}

/// Is a good answer, or a piece of a push stream, as it was handed to the connection.
struct Answer<'e> {
    at: Duration,
    exchange: u64,
    fields_bytes: usize,
    body_bytes: usize,
    truth: &'e Truth,
}

impl<'e> Answer<'e> {
    fn of(event: &'e Event) -> Option<Self> {
        let (exchange, fields_bytes, body_bytes, truth) = match &event.kind {
            EventKind::Answer {
                exchange,
                status: 200 | 304,
                body,
                headers,
                truth,
            } => {
                let fields = headers.iter();
                let bytes = fields.map(|(name, value)| name.len() + value.len() + 4);
                (*exchange, bytes.sum(), body.len(), truth)
            }
            EventKind::Pushed {
                exchange,
                bytes,
                truth,
            } => (*exchange, 0, bytes.len(), truth),
            _ => return None,
        };
        Some(Self {
            at: event.at,
            exchange,
            fields_bytes,
            body_bytes,
            truth: truth.as_ref(),
        })
    }
}

/// Says what an answer may have told; `None` if it was certainly lost.
fn judge<'e>(
    answer: &Answer<'e>,
    trace: &Trace<'_>,
    met: &Met<'_>,
    spans: &[Span],
    maps: &[String],
) -> Option<Told<'e>> {
    let at = answer.at;
    // What is noted by two threads may be noted in the other order.
    let slack = Duration::from_millis(50) + trace.timing.harness_delay;
    let covering = || spans.iter().filter(|span| span.covers(at, slack));
    let faults = met.faults_of(answer.exchange);
    let says_nothing_new = faults.iter().any(|fault| is_not_modified(&fault.fault));
    let is_plain = !covering().any(|span| span.drift().is_some_and(is_of_the_form));
    let is_lost = |fault: &&ScopedFault| is_withheld(&fault.fault, answer.body_bytes, is_plain);
    if !says_nothing_new && faults.iter().any(is_lost) {
        return None;
    }
    let bytes = answer.fields_bytes + answer.body_bytes + HEAD_BYTES;
    let late = faults
        .iter()
        .map(|fault| lateness(&fault.fault, bytes))
        .fold(Duration::ZERO, Duration::saturating_add);
    let is_held_up = |span: &&Span| span.fault().is_some_and(holds_up_packets);
    let freed = covering()
        .filter(is_held_up)
        .map(|span| span.ended.unwrap_or(trace.end))
        .max();
    let drifts: Vec<Drift> = covering()
        .filter_map(Span::drift)
        .filter(|drift| !is_harmless(drift, maps))
        .cloned()
        .collect();
    let is_sure = faults.is_empty()
        && !met.is_odd(answer.exchange)
        && !covering().any(|span| span.drift().is_none())
        && drifts.is_empty()
        && answer.truth.printer.host_updates == 0;
    Some(Told {
        at,
        arrives: at.saturating_add(late).max(freed.unwrap_or_default()),
        truth: answer.truth,
        is_sure,
        run: 0,
        says_nothing_new,
        drifts,
    })
}

/// Is which faults had a part in which exchange.
struct Met<'e> {
    of_exchange: BTreeMap<u64, Vec<&'e ScopedFault>>,
    odd_connections: BTreeSet<u64>,
    connection_of: BTreeMap<u64, u64>,
}

impl<'e> Met<'e> {
    fn of(events: &'e [Event]) -> Self {
        let mut met = Self {
            of_exchange: BTreeMap::new(),
            odd_connections: BTreeSet::new(),
            connection_of: BTreeMap::new(),
        };
        for event in events {
            match &event.kind {
                EventKind::FaultHappened {
                    exchange: Some(exchange),
                    fault,
                    ..
                } => met.of_exchange.entry(*exchange).or_default().push(fault),
                EventKind::FaultHappened { connection, .. } => {
                    met.odd_connections.insert(*connection);
                }
                EventKind::Request {
                    connection,
                    exchange,
                    ..
                } => {
                    met.connection_of.insert(*exchange, *connection);
                }
                _ => {}
            }
        }
        met
    }

    fn faults_of(&self, exchange: u64) -> &[&'e ScopedFault] {
        self.of_exchange.get(&exchange).map_or(&[], Vec::as_slice)
    }

    /// Tells whether something has happened to the connection as such.
    fn is_odd(&self, exchange: u64) -> bool {
        let connection = self.connection_of.get(&exchange);
        connection.is_some_and(|connection| self.odd_connections.contains(connection))
    }
}

/// Tells whether a fault says "not modified" to whoever has asked before: then the old body is as
/// good as new for the client.
fn is_not_modified(fault: &Fault) -> bool {
    matches!(fault, Fault::Status { code, .. } if code.as_u16() == 304)
}

/// Tells whether a fault has certainly kept a whole answer of that many bytes from every client.
///
/// Others leave a doubt: a length that is wrong is none in an answer in chunks, and an end of a
/// connection instead of the last chunk is the usual end for a client of HTTP/1.0.
fn is_withheld(fault: &Fault, body: usize, is_plain: bool) -> bool {
    let is_cut = |at: &Position| match at {
        Position::Start => true,
        Position::HeadEnd => body > 0,
        // An answer that is over by then passes whole. How long its head was is not known, nor how
        // long its body was as it went out, if it was not as it was made.
        Position::Byte(count) | Position::BodyByte(count) => {
            is_plain && usize::try_from(*count).is_ok_and(|count| count < body)
        }
    };
    match fault {
        Fault::Reset { at } | Fault::Close { at } | Fault::Stall { at } => is_cut(at),
        Fault::Status { .. }
        | Fault::LoginPage
        | Fault::Redirect { .. }
        | Fault::RedirectLoop { .. }
        | Fault::CaptivePortal
        | Fault::KeyRevoked
        | Fault::Garbage { .. }
        | Fault::CloseOnReuse { .. } => true,
        _ => false,
    }
}

/// Gives by how much a fault delays the end of an answer of so many bytes, at most.
fn lateness(fault: &Fault, bytes: usize) -> Duration {
    let bytes = u32::try_from(bytes).unwrap_or(u32::MAX);
    match fault {
        Fault::Latency { of, jitter } => of.0.saturating_add(jitter.0),
        Fault::Drip { gap } => gap.0.saturating_mul(bytes),
        Fault::Bandwidth { bytes_per_second } => {
            #[expect(clippy::cast_precision_loss, reason = "an estimate")]
            let seconds = f64::from(bytes) / (*bytes_per_second).max(1) as f64;
            Duration::from_secs_f64(seconds)
        }
        _ => Duration::ZERO,
    }
}

fn is_of_the_form(drift: &Drift) -> bool {
    drift.change.stage() == Stage::Form
}

/// Tells whether what is answered while a fault is in force arrives only after it.
fn holds_up_packets(fault: &Fault) -> bool {
    matches!(fault, Fault::Unreachable | Fault::HalfOpen | Fault::Silent)
}

/// Tells whether every reader must still understand all of a body.
///
/// An element of another type in a list, a member of another type where the names are those of heaters,
/// and texts at the edge of what parsers take, are compatible by the letter, and a careful reader may
/// still say that it does not know.
fn is_harmless(drift: &Drift, maps: &[String]) -> bool {
    drift.class == DriftClass::Compatible
        && !matches!(drift.change, Change::AppendElement(_) | Change::Corpus(_))
        && !(adds_a_member(drift) && maps.contains(&drift.pointer))
}

fn adds_a_member(drift: &Drift) -> bool {
    matches!(
        drift.change,
        Change::AddMember(_) | Change::DeepenUnknown(_)
    )
}
