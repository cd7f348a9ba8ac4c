//! What happened around a moment, in order.

use std::time::Duration;

use bytes::Bytes;
use serde::Serialize;

use super::super::legible::legible_bytes;
use super::words;
use crate::event::{Event, EventKind};
use crate::oracle::Timing;
use crate::recorded::{Heard, Said};

/// So many entries are shown at most, most of them from before the moment (own choice).
const BEFORE: usize = 40;
const AFTER: usize = 8;
/// So much of a body is shown (own choice).
const BODY_BYTES: usize = 1500;
/// So many of the watcher's own lines are shown.
const LINES: usize = 12;

/// Is one thing that happened.
#[derive(Debug, Serialize)]
pub(super) struct Entry {
    at: String,
    who: &'static str,
    class: &'static str,
    what: String,
    bytes: String,
    cut: String,
    /// Whether it is the first after the moment.
    is_first_after: bool,
}

/// Gives what happened in the time that a claim at a moment may rest on, and shortly after.
pub(super) fn entries(events: &[Event], at: Duration, timing: &Timing) -> Vec<Entry> {
    let reach = timing.freshness() + timing.longest_interval;
    let from = events.partition_point(|event| event.at < at.saturating_sub(reach));
    let moment = events.partition_point(|event| event.at <= at);
    let until = events.partition_point(|event| event.at <= at + timing.longest_interval);
    let from = from.max(moment.saturating_sub(BEFORE));
    let until = until.min(moment + AFTER);
    let entries = events[from..until].iter();
    let mut entries: Vec<(bool, Entry)> = entries
        .filter_map(|event| Some((event.at > at, Entry::of(event)?)))
        .collect();
    if let Some((_, first)) = entries.iter_mut().find(|(is_after, _)| *is_after) {
        first.is_first_after = true;
    }
    entries.into_iter().map(|(_, entry)| entry).collect()
}

/// Gives the last lines that the watcher wrote until a moment and that are no sightings: when, on
/// which stream, what.
pub(super) fn last_lines(events: &[Event], at: Duration) -> Vec<(String, String, String)> {
    let until = events.partition_point(|event| event.at <= at);
    let lines = events[..until].iter().rev();
    let lines = lines.filter_map(|event| match &event.kind {
        EventKind::Line { on_stderr, text } if !text.is_empty() => Some((
            words::moment(event.at),
            stream(*on_stderr).to_owned(),
            text.clone(),
        )),
        _ => None,
    });
    let mut lines: Vec<_> = lines.take(LINES).collect();
    lines.reverse();
    lines
}

fn stream(on_stderr: bool) -> &'static str {
    if on_stderr { "stderr" } else { "stdout" }
}

impl Entry {
    /// Puts an event into words; `None` for what tells nothing about a claim.
    fn of(event: &Event) -> Option<Self> {
        let (who, class, what) = described(&event.kind)?;
        let (bytes, cut) = wire(&event.kind);
        Some(Self {
            at: words::moment(event.at),
            who,
            class,
            what,
            bytes,
            cut,
            is_first_after: false,
        })
    }
}

const WATCHER: (&str, &str) = ("watcher", "watcher");
const HOST: (&str, &str) = ("host", "host");
const HARNESS: (&str, &str) = ("harness", "harness");

fn described(kind: &EventKind) -> Option<(&'static str, &'static str, String)> {
    let ((who, class), what) = match kind {
        EventKind::ConnectionOpened { connection } => {
            (WATCHER, format!("opens connection {connection}"))
        }
        EventKind::ConnectionClosed { connection } => {
            (HOST, format!("connection {connection} is closed"))
        }
        EventKind::ConnectionReset {
            connection,
            after_bytes,
        } => (
            HOST,
            format!("resets connection {connection} after {after_bytes} bytes of an answer"),
        ),
        EventKind::Request { method, target, .. } => (WATCHER, format!("asks {method} {target}")),
        EventKind::Answer { status, truth, .. } => (
            HOST,
            format!("answers {status}, the printer being {}", truth.phase),
        ),
        EventKind::Pushed { truth, .. } => {
            (HOST, format!("pushes, the printer being {}", truth.phase))
        }
        EventKind::Replayed { heard, .. } => (HOST, replayed(heard)),
        EventKind::Elsewhere { target, .. } => {
            (WATCHER, format!("asks another origin for {target}"))
        }
        EventKind::Sighting(sighting) => (
            ("watcher", "claim"),
            format!("claims {}", words::sighting(sighting)),
        ),
        EventKind::Line { on_stderr, text } => {
            (WATCHER, format!("writes on {}: {text}", stream(*on_stderr)))
        }
        EventKind::Exited { status } => (WATCHER, format!("ends by itself ({status})")),
        EventKind::StoppedAsking { waited } => (
            WATCHER,
            format!("has asked nothing for {:.1} s", waited.as_secs_f64()),
        ),
        EventKind::Resources(_) => return None,
        other => (HARNESS, of_harness(other)),
    };
    Some((who, class, what))
}

/// Says which recorded answer it is.
fn replayed(heard: &Heard) -> String {
    let what = match heard.status {
        Some(status) => format!("answers {status}"),
        None => "gives no answer".to_owned(),
    };
    let usable = match &heard.said {
        Said::Told(_) => String::new(),
        Said::Unusable(why) => format!(", of no use: {why}"),
        Said::NotRead(why) => format!(", not read: {why}"),
    };
    format!(
        "{what}, as exchange {} of the session, asked for at {:.1} s{usable}",
        heard.recorded,
        heard.at.as_secs_f64()
    )
}

/// Says what the harness did, or what it made happen.
fn of_harness(kind: &EventKind) -> String {
    match kind {
        EventKind::Clock { virtual_time, rate } => format!(
            "sets the printer's clock to {:.1} s, {rate:.1} s a second",
            virtual_time.since_start().as_secs_f64()
        ),
        EventKind::FaultRaised { fault, .. } => format!("raises a fault: {fault}"),
        EventKind::FaultHappened { fault, .. } => format!("a fault has its part: {fault}"),
        EventKind::FaultCleared => "clears every fault".to_owned(),
        EventKind::DriftRaised { drift } => format!("changes the bodies: {drift}"),
        EventKind::DriftCleared => "leaves the bodies as they are".to_owned(),
        EventKind::PrinterEvent { event } => format!("lets something happen: {event}"),
        EventKind::Suspended => "stops the watcher, as sleep does".to_owned(),
        EventKind::Resumed => "lets the watcher go on".to_owned(),
        EventKind::TrialBegan { label } => format!("begins the trial: {label}"),
        EventKind::TrialEnded => "ends the trial".to_owned(),
        EventKind::Restarted => "starts the watcher again".to_owned(),
        _ => String::new(),
    }
}

/// Gives head and body as they crossed the wire, and what is missing of the body.
fn wire(kind: &EventKind) -> (String, String) {
    match kind {
        EventKind::Request {
            method,
            target,
            headers,
            body,
            ..
        } => message(&format!("{method} {target}"), headers, body),
        EventKind::Answer {
            status,
            headers,
            body,
            ..
        } => message(&status.to_string(), headers, body),
        EventKind::Pushed { bytes, .. } => cut(bytes),
        EventKind::Replayed { heard, .. } => cut(&Bytes::from(heard.content.clone())),
        EventKind::Elsewhere { target, headers } => {
            message(&format!("asks for {target}"), headers, &Bytes::new())
        }
        _ => (String::new(), String::new()),
    }
}

fn message(first: &str, headers: &[(String, String)], body: &Bytes) -> (String, String) {
    let fields = headers
        .iter()
        .map(|(name, value)| format!("{name}: {value}\n"));
    let fields: String = fields.collect();
    let (body, cut) = cut(body);
    (format!("{first}\n{fields}\n{body}"), cut)
}

fn cut(body: &Bytes) -> (String, String) {
    let shown = &body[..body.len().min(BODY_BYTES)];
    let cut = match body.len() - shown.len() {
        0 => String::new(),
        more => format!("{more} of {} bytes are not shown", body.len()),
    };
    (legible_bytes(shown), cut)
}
