//! What a watcher's traffic was, from the events of a run.

use std::collections::HashMap;
use std::time::Duration;

use super::calibrate::polls;
use crate::event::{Event, EventKind};
use crate::power::Traffic;

/// Sums up what crossed the network.
///
/// Bytes are those of HTTP: heads as they are written out, and bodies. What TCP, IP and the link add
/// is part of a board's figures for a poll.
pub(super) fn traffic_of(events: &[Event]) -> Traffic {
    let polls = polls(events);
    let mut traffic = Traffic {
        observed: match (polls.first(), polls.last()) {
            // One interval more than there are between them, so that each poll has its own.
            (Some(first), Some(last)) if polls.len() > 1 => {
                let between = *last - *first;
                between + between / u32::try_from(polls.len() - 1).unwrap_or(u32::MAX)
            }
            _ => Duration::ZERO,
        },
        polls: polls.len() as u64,
        ..Traffic::default()
    };
    let mut asked: HashMap<u64, Duration> = HashMap::new();
    for event in events {
        match &event.kind {
            EventKind::ConnectionOpened { .. } => traffic.connections_opened += 1,
            EventKind::Request {
                exchange,
                method,
                target,
                headers,
                body,
                ..
            } => {
                traffic.requests += 1;
                let line = method.len() + target.len() + " HTTP/1.1\r\n".len() + 1;
                traffic.bytes_sent += (line + head(headers) + body.len()) as u64;
                asked.insert(*exchange, event.at);
            }
            EventKind::Answer {
                exchange,
                headers,
                body,
                ..
            } => {
                let line = "HTTP/1.1 200 OK\r\n".len();
                traffic.bytes_received += (line + head(headers) + ADDED + body.len()) as u64;
                if let Some(asked) = asked.remove(exchange) {
                    traffic.waiting += event.at.saturating_sub(asked);
                }
            }
            _ => {}
        }
    }
    traffic
}

/// `Date` and `Content-Length`, which the connection adds: 37 and some 22 bytes with their line ends
/// (RFC 9110 sections 5.6.7 and 8.6).
const ADDED: usize = 59;

fn head(headers: &[(String, String)]) -> usize {
    let line = |(name, value): &(String, String)| name.len() + value.len() + ": \r\n".len();
    headers.iter().map(line).sum::<usize>() + "\r\n".len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use bytes::Bytes;

    fn request(at_ms: u64, connection: u64) -> [Event; 2] {
        let at = Duration::from_millis(at_ms);
        let opened = EventKind::ConnectionOpened { connection };
        let asked = EventKind::Request {
            connection,
            exchange: at_ms,
            method: "GET".to_owned(),
            target: "/printer".to_owned(),
            headers: vec![("host".to_owned(), "h".to_owned())],
            body: Bytes::new(),
        };
        [opened, asked].map(|kind| Event { at, kind })
    }

    #[test]
    fn three_polls_a_second_apart_are_three_seconds_of_traffic() {
        let events: Vec<Event> = (0..3)
            .flat_map(|second| request(second * 1000, second))
            .collect();
        let traffic = traffic_of(&events);
        assert_eq!(traffic.observed, Duration::from_secs(3));
        assert_eq!((traffic.polls, traffic.requests), (3, 3));
        assert_eq!(traffic.connections_opened, 3);
        // `GET /printer HTTP/1.1`, `host: h`, an empty line, each with its end: 23 + 9 + 2.
        assert_eq!(traffic.bytes_sent, 3 * 34);
    }
}
