//! The exchanges of one connection, from the bytes of its two directions.

use std::collections::VecDeque;
use std::time::Duration;

use bytes::{Bytes, BytesMut};

use super::shared::Shared;
use crate::answer_flow::AnswerFlow;
use crate::format::{Body, End, Line, Sender, Withheld};
use crate::http::content::ContentReader;
use crate::http::head::{self, RequestHead};
use crate::http::websocket::MessageReader;

/// Follows what is asked and answered on one connection.
#[derive(Debug)]
pub(super) struct Conversation {
    connection: u64,
    /// Of a longer body only its length is written, in bytes.
    max_body: usize,
    asking: Asking,
    /// What the watcher has said and is not understood yet.
    from_watcher: BytesMut,
    /// The exchanges without an answer to its end, in their order.
    open: VecDeque<Open>,
    /// What the host has said before anything was asked; in a capture the order of the two directions
    /// may be another one.
    unasked: BytesMut,
    host_closed: Option<Duration>,
    watcher_left: Option<Duration>,
    found: Findings,
    lines: Vec<Line>,
    /// When the last bytes came.
    last: Duration,
}

/// Says what was found on a connection besides exchanges.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Findings {
    /// Something was asked in HTTP/1.1.
    pub(super) is_http: bool,
    /// It is encrypted.
    pub(super) is_tls: bool,
    /// Something is no HTTP/1.1.
    pub(super) is_other: bool,
    /// There are frames that are no plain WebSocket.
    pub(super) has_other_frames: bool,
    /// How many requests never were whole and got no answer.
    pub(super) parts_of_requests: u64,
    /// The host has said something unasked.
    pub(super) is_unasked: bool,
}

#[derive(Debug)]
struct Open {
    number: u64,
    flow: AnswerFlow,
    asks_for_upgrade: bool,
    /// When its first byte came.
    answered: Option<Duration>,
}

#[derive(Debug)]
enum Asking {
    Head,
    Content {
        number: u64,
        at: Duration,
        head: Box<RequestHead>,
        reader: ContentReader,
    },
    Frames {
        exchange: u64,
        reader: MessageReader,
    },
    /// What comes is not understood, and nobody looks at it.
    Ignored,
}

impl Conversation {
    pub(super) fn new(connection: u64, max_body: usize) -> Self {
        Self {
            connection,
            max_body,
            asking: Asking::Head,
            from_watcher: BytesMut::new(),
            open: VecDeque::new(),
            unasked: BytesMut::new(),
            host_closed: None,
            watcher_left: None,
            found: Findings::default(),
            lines: Vec::new(),
            last: Duration::ZERO,
        }
    }

    /// Gives when the last bytes came.
    pub(super) fn last_moment(&self) -> Duration {
        self.last
    }

    /// Says what was found besides exchanges.
    pub(super) fn found(&self) -> Findings {
        self.found
    }

    /// Takes out what is written of it.
    pub(super) fn take_lines(&mut self) -> Vec<Line> {
        std::mem::take(&mut self.lines)
    }

    /// Takes bytes of the watcher.
    pub(super) fn asks(&mut self, at: Duration, bytes: &[u8], shared: &mut Shared) {
        self.last = at;
        self.from_watcher.extend_from_slice(bytes);
        loop {
            let goes_on = match &mut self.asking {
                Asking::Head => self.head(at, shared),
                Asking::Content { .. } => self.content(),
                Asking::Frames { .. } => self.frames(at),
                Asking::Ignored => {
                    self.from_watcher.clear();
                    false
                }
            };
            if !goes_on {
                return;
            }
        }
    }

    /// Reads a request's head; says whether there may be more to read.
    fn head(&mut self, at: Duration, shared: &mut Shared) -> bool {
        if let Some(open) = self.open.back().filter(|open| open.asks_for_upgrade) {
            if open.flow.is_frames() {
                self.switch();
                return true;
            }
            // What follows may be another protocol: its answer says so.
            if !open.flow.has_begun() {
                return false;
            }
        }
        let read = head::request(&self.from_watcher);
        let read = read.and_then(|read| match read {
            Some((head, length)) => Ok(Some((head.framing()?, head, length))),
            None => Ok(None),
        });
        let ((framing, content_length), head, length) = match read {
            Ok(Some(read)) => read,
            Ok(None) => return false,
            Err(_not_http) => {
                self.is_no_request();
                return false;
            }
        };
        let _head = self.from_watcher.split_to(length);
        self.found.is_http = true;
        let number = shared.next_exchange();
        self.open.push_back(Open {
            number,
            flow: AnswerFlow::new(number, &head.method, at, self.max_body).of_a_capture(),
            asks_for_upgrade: head::has_word(&head.fields, "connection", "upgrade"),
            answered: None,
        });
        self.asking = Asking::Content {
            number,
            at,
            head: Box::new(head),
            reader: ContentReader::new(framing, content_length, self.max_body),
        };
        let early = self.unasked.split().freeze();
        if !early.is_empty() {
            self.answer(at, early);
        }
        if let Some(closed) = self.host_closed {
            self.end_open(closed.max(at), End::Closed);
        }
        true
    }

    /// Reads frames from here on.
    fn switch(&mut self) {
        self.asking = match self.open.back() {
            Some(open) if !open.flow.is_unreadable() => Asking::Frames {
                exchange: open.number,
                reader: MessageReader::new(Sender::Watcher, self.max_body),
            },
            _ => {
                self.found.has_other_frames = true;
                Asking::Ignored
            }
        };
    }

    fn is_no_request(&mut self) {
        /// The type of a handshake record, and the first byte of its version (RFC 8446 section 5.1).
        const TLS_HANDSHAKE: &[u8] = &[0x16, 0x03];
        let is_tls = self.from_watcher.starts_with(TLS_HANDSHAKE);
        self.found.is_tls |= is_tls;
        self.found.is_other |= !is_tls;
        self.asking = Asking::Ignored;
        self.from_watcher.clear();
    }

    /// Reads a request's content; says whether there may be more to read.
    fn content(&mut self) -> bool {
        let Asking::Content { reader, .. } = &mut self.asking else {
            return false;
        };
        match reader.take(&self.from_watcher) {
            Ok(taken) => {
                let _taken = self.from_watcher.split_to(taken);
                let is_done = reader.is_done();
                if is_done {
                    self.write_request();
                }
                is_done
            }
            Err(_not_http) => {
                self.write_request();
                self.is_no_request();
                false
            }
        }
    }

    /// Writes the request under way with what came of its content.
    fn write_request(&mut self) {
        let asking = std::mem::replace(&mut self.asking, Asking::Head);
        let Asking::Content {
            number,
            at,
            head,
            mut reader,
        } = asking
        else {
            return;
        };
        let bytes = reader.length();
        let kept = reader.drain();
        let body = match kept.len() as u64 == bytes {
            true => Body::from(Bytes::from(kept)),
            false => Body::Withheld(Withheld {
                bytes,
                reason: format!("longer than {} bytes", kept.len()),
            }),
        };
        self.lines.push(Line::Request {
            at_seconds: at,
            connection: self.connection,
            exchange: number,
            method: head.method,
            target: head.target,
            http_version: head.version,
            fields: head.fields,
            body,
        });
    }

    /// Reads what the watcher says on a WebSocket.
    fn frames(&mut self, at: Duration) -> bool {
        let Asking::Frames { exchange, reader } = &mut self.asking else {
            return false;
        };
        match reader.take(&self.from_watcher) {
            Ok(Some((length, frame))) => {
                let _frame = self.from_watcher.split_to(length);
                let exchange = *exchange;
                self.lines.extend(frame.map(|frame| Line::Frame {
                    at_seconds: at,
                    exchange,
                    frame,
                }));
                true
            }
            Ok(None) => false,
            Err(_no_frame) => {
                self.found.has_other_frames = true;
                self.asking = Asking::Ignored;
                true
            }
        }
    }

    /// Takes bytes of the host.
    pub(super) fn answers(&mut self, at: Duration, bytes: Vec<u8>, shared: &mut Shared) {
        self.answer(at, Bytes::from(bytes));
        // What the watcher has said may be clear now.
        self.asks(at, &[], shared);
    }

    fn answer(&mut self, at: Duration, mut bytes: Bytes) {
        while !bytes.is_empty() {
            let Some(open) = self.open.front_mut() else {
                if !matches!(self.asking, Asking::Ignored) {
                    self.unasked.extend_from_slice(&bytes);
                }
                return;
            };
            open.answered.get_or_insert(at);
            let Ok(step) = open.flow.take(at, &bytes, |_| None) else {
                // Where the next answer would begin is not known any more.
                self.found.is_other = true;
                self.finish(at, End::NotHttp);
                return;
            };
            self.lines.extend(step.lines);
            bytes = open.flow.beyond();
            if open.flow.done().is_some() {
                self.open.pop_front();
            } else {
                return;
            }
        }
    }

    /// Takes the end of what the watcher says.
    pub(super) fn watcher_leaves(&mut self, at: Duration) {
        self.watcher_left.get_or_insert(at);
    }

    /// Takes the end of what the host says.
    pub(super) fn host_closes(&mut self, at: Duration) {
        self.host_closed = Some(at);
        let end = match (self.watcher_left, self.open.front()) {
            // Who sends its end at once with the question still waits for the answer.
            (Some(left), Some(open))
                if !open.flow.ends_with_the_connection()
                    || open.answered.is_some_and(|first| first < left) =>
            {
                End::WatcherLeft
            }
            _ => End::Closed,
        };
        self.end_open(at, end);
    }

    /// Takes the end of the connection, or of what the capture has of it.
    pub(super) fn finish(&mut self, at: Duration, end: End) {
        match &self.asking {
            Asking::Content { number, .. } => {
                let number = *number;
                let is_nothing = |open: &Open| open.number == number && open.flow.is_untouched();
                if self.open.iter().any(is_nothing) {
                    self.open.retain(|open| open.number != number);
                    self.found.parts_of_requests += 1;
                } else {
                    self.write_request();
                }
            }
            Asking::Head if !self.from_watcher.is_empty() => self.found.parts_of_requests += 1,
            _ => {}
        }
        self.end_open(at, end);
        self.found.is_unasked |= !self.unasked.is_empty();
        self.unasked.clear();
        self.from_watcher.clear();
        self.asking = Asking::Ignored;
    }

    fn end_open(&mut self, at: Duration, end: End) {
        for mut open in self.open.drain(..) {
            self.lines.extend(open.flow.end(at, end).lines);
        }
        // What a watcher says after the end of a stream is on it no more.
        if matches!(self.asking, Asking::Frames { .. }) {
            self.asking = Asking::Ignored;
        }
    }
}
