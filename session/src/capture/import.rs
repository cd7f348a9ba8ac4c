//! From a capture to a session.

use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr};
use std::time::Duration;

use jiff::Timestamp;

use super::connection::{After, Connection, Written};
use super::file::Packets;
use super::left_out::{LeftOut, Reason};
use super::packet::{Found, Segment, found};
use super::shared::Shared;
use crate::format::{Line, ReadError};
use crate::model::Session;

/// Says what of a capture is taken, and how much at most.
#[derive(Debug, Clone, Copy)]
pub struct Options {
    /// The host's port; by default any.
    pub port: Option<u16>,
    /// The host's address; by default that of the host with most exchanges.
    pub host: Option<IpAddr>,
    /// Of a longer body only its length is written, in bytes.
    pub max_body_bytes: usize,
    /// The most that is kept of all streams together, in bytes; several times as much memory is needed.
    pub max_stream_bytes: u64,
}

impl Default for Options {
    /// Chosen: bodies as in a recording; 256 MiB are a night of status bodies, and a machine has room for
    /// a few times as much.
    fn default() -> Self {
        Self {
            port: None,
            host: None,
            max_body_bytes: crate::record::Limits::default().max_body_bytes,
            max_stream_bytes: 256 << 20,
        }
    }
}

/// Is a session that was read from a capture.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The session. Its times count from the capture's first packet.
    pub session: Session,
    /// What is not in it.
    pub left_out: Vec<LeftOut>,
}

/// Says why a capture is none, or cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum CaptureError {
    /// It is no capture, or not even its head is whole.
    #[error("no packet capture with a whole head [pcap or pcapng]")]
    Form,
    /// There is too much in it.
    #[error(
        "more than {limit_bytes} bytes were said on its connections [take one host or port, or a shorter capture]"
    )]
    TooMuch {
        /// The limit, in bytes.
        limit_bytes: u64,
    },
    /// There is no exchange.
    #[error("there is no exchange in plain HTTP/1.1{}", list(left_out))]
    NoExchange {
        /// What there is.
        left_out: Vec<LeftOut>,
    },
    /// What was read does not fit together.
    #[error("what was read of the capture makes no session")]
    Lines(#[source] ReadError),
}

fn list(left_out: &[LeftOut]) -> String {
    if left_out.is_empty() {
        return String::new();
    }
    let all: Vec<String> = left_out.iter().map(LeftOut::to_string).collect();
    format!(" [left out: {}]", all.join("; "))
}

/// Reads a capture. Of several hosts that fit the options, the one with most exchanges is taken.
///
/// # Errors
/// [`CaptureError`].
pub fn import(bytes: &[u8], options: &Options) -> Result<Imported, CaptureError> {
    let mut packets = Packets::of(bytes).ok_or(CaptureError::Form)?;
    let mut shared = Shared::new(*options);
    let mut clock = Clock::default();
    let mut table = Table::default();
    for packet in &mut packets {
        let at = clock.at(packet.at);
        match found(&packet) {
            Found::Segment(segment) => table.take(at, &segment, &mut shared)?,
            Found::Unreadable(reason, between) => {
                let is_wanted = |(from, to): (IpAddr, IpAddr)| {
                    options.host.is_none_or(|host| host == from || host == to)
                };
                if between.is_none_or(is_wanted) {
                    shared.left_out.add(reason, None, 1);
                }
            }
            Found::Other => {}
        }
    }
    let unread = packets.unread();
    shared.left_out.add(Reason::DamagedFile, None, unread);
    let written = table.written(clock.now, &mut shared);
    let Some(host) = most_exchanges(&written, &mut shared) else {
        return Err(CaptureError::NoExchange {
            left_out: shared.left_out.list(),
        });
    };
    let lines = written.into_iter().filter(|written| written.host == host);
    let lines = lines.flat_map(|written| written.lines).collect();
    let mut session = Session::from_lines(lines).map_err(CaptureError::Lines)?;
    renumber(&mut session);
    session.recorded_at = clock.began.map(|began| began.to_string());
    session.upstream = Some(origin(host));
    Ok(Imported {
        session,
        left_out: shared.left_out.list(),
    })
}

/// What is later than so long after the first packet is no time of a capture: 100 years, as long as a
/// session can be.
const LONGEST: Duration = Duration::from_secs(100 * 365 * 86_400);

/// Counts time from the first packet, and never back: a capture may have packets in another order than
/// their times, and a machine's clock may be set.
#[derive(Debug, Default)]
struct Clock {
    began: Option<Timestamp>,
    now: Duration,
}

impl Clock {
    fn at(&mut self, moment: Option<Timestamp>) -> Duration {
        if let Some(moment) = moment {
            let began = *self.began.get_or_insert(moment);
            let since = Duration::try_from(moment.duration_since(began)).unwrap_or_default();
            if since <= LONGEST {
                // Whole microseconds, as sessions have them.
                let micros = u64::try_from(since.as_micros()).unwrap_or_default();
                self.now = self.now.max(Duration::from_micros(micros));
            }
        }
        self.now
    }
}

/// Is the connections of a capture.
#[derive(Debug, Default)]
struct Table {
    /// The last between two ports, the lower first.
    last: BTreeMap<(SocketAddr, SocketAddr), Connection>,
    /// Those before, at their end.
    before: Vec<Connection>,
}

impl Table {
    fn take(
        &mut self,
        at: Duration,
        segment: &Segment<'_>,
        shared: &mut Shared,
    ) -> Result<(), CaptureError> {
        let (from, to) = (segment.from, segment.to);
        if !shared.wants(from) && !shared.wants(to) {
            return Ok(());
        }
        let between = (from.min(to), from.max(to));
        let connection = match self.last.remove(&between) {
            Some(mut known) if known.is_succeeded_by(segment) => {
                known.is_left(shared);
                self.before.push(known);
                Connection::new(at, shared)
            }
            Some(known) => known,
            None => Connection::new(at, shared),
        };
        let connection = self.last.entry(between).or_insert(connection);
        if connection.take(at, segment, shared)? == After::BeginAnew {
            let rest = Connection::rest(at, shared);
            let known = std::mem::replace(connection, rest);
            self.before.push(known);
            connection.take(at, segment, shared)?;
        }
        Ok(())
    }

    fn written(self, at: Duration, shared: &mut Shared) -> Vec<Written> {
        let connections = self.before.into_iter().chain(self.last.into_values());
        connections
            .filter_map(|connection| connection.written(at, shared))
            .collect()
    }
}

/// Gives the host with most exchanges, of several the lowest; the others' are told.
fn most_exchanges(written: &[Written], shared: &mut Shared) -> Option<SocketAddr> {
    let mut counts: BTreeMap<SocketAddr, u64> = BTreeMap::new();
    for written in written {
        let requests = written.lines.iter();
        let count = requests.filter(|line| matches!(line, Line::Request { .. }));
        *counts.entry(written.host).or_default() += count.count() as u64;
    }
    let most = counts.values().max().copied().filter(|count| *count > 0)?;
    let host = *counts.iter().find(|(_, count)| **count == most)?.0;
    counts.remove(&host);
    for (other, count) in counts {
        shared.left_out.add(Reason::OtherHost, Some(other), count);
    }
    Some(host)
}

/// Numbers connections and exchanges from 1, in the order they have.
fn renumber(session: &mut Session) {
    let mut numbers = BTreeMap::new();
    for (connection, number) in session.connections.iter_mut().zip(1..) {
        numbers.insert(connection.number, number);
        connection.number = number;
    }
    for (exchange, number) in session.exchanges.iter_mut().zip(1..) {
        exchange.number = number;
        if let Some(connection) = numbers.get(&exchange.connection) {
            exchange.connection = *connection;
        }
    }
}

fn origin(host: SocketAddr) -> String {
    match (host.port(), host.ip()) {
        (80, IpAddr::V4(address)) => format!("http://{address}"),
        (80, IpAddr::V6(address)) => format!("http://[{address}]"),
        _ => format!("http://{host}"),
    }
}
