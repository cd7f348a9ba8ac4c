//! An answer on its way through, as bytes in and lines out. Pure.

use std::time::Duration;

use bytes::{Bytes, BytesMut};

use crate::format::{Body, End, Framing, Line, Piece, Sender, StreamKind, Withheld};
use crate::http::content::ContentReader;
use crate::http::events::first_event;
use crate::http::head::{self, AnswerHead, NotHttp};
use crate::http::websocket::MessageReader;
use crate::model::{Answer, Content};

/// Is one answer under way.
#[derive(Debug)]
pub(crate) struct AnswerFlow {
    exchange: u64,
    method: String,
    asked: Duration,
    max_body: usize,
    /// What of the bytes that came is not understood yet.
    pending: BytesMut,
    /// All that came, up to the limit.
    raw: BytesMut,
    pieces: Vec<Piece>,
    /// Whether it is followed in a capture, and not passed on.
    is_captured: bool,
    state: State,
}

#[derive(Debug)]
enum State {
    Head,
    Whole {
        head: AnswerHead,
        reader: ContentReader,
    },
    /// What came of the stream and is no whole event yet.
    Stream {
        kind: StreamKind,
        reader: ContentReader,
        rest: Vec<u8>,
        closes: bool,
    },
    /// Without a reader, what comes is no frames that can be read.
    Frames {
        reader: Option<MessageReader>,
    },
    /// Whether the connection is over after it.
    Done {
        closes: bool,
    },
}

/// Is what comes of some bytes.
#[derive(Debug, Default)]
pub(crate) struct Step {
    /// Written first.
    pub(crate) lines: Vec<Line>,
    /// Passed on then.
    pub(crate) forward: Bytes,
}

impl AnswerFlow {
    pub(crate) fn new(exchange: u64, method: &str, asked: Duration, max_body: usize) -> Self {
        Self {
            exchange,
            method: method.to_owned(),
            asked,
            max_body,
            pending: BytesMut::new(),
            raw: BytesMut::new(),
            pieces: Vec::new(),
            is_captured: false,
            state: State::Head,
        }
    }

    /// Follows the answer in a capture: what comes after its end is the next answer's and not counted to
    /// it ([`AnswerFlow::beyond`]), and frames of a protocol that is not plain WebSocket are not read. On
    /// the way through the recorder neither is there, since it asks for one answer after the other and for
    /// no extension.
    pub(crate) fn of_a_capture(self) -> Self {
        Self {
            is_captured: true,
            ..self
        }
    }

    /// Takes out what came after the answer's end.
    pub(crate) fn beyond(&mut self) -> Bytes {
        match self.state {
            State::Done { .. } => self.pending.split().freeze(),
            _ => Bytes::new(),
        }
    }

    /// Tells whether nothing of the answer has come, not even a byte of its head.
    pub(crate) fn is_untouched(&self) -> bool {
        self.pieces.is_empty()
    }

    /// Tells whether its head, other than an interim one, has come.
    pub(crate) fn has_begun(&self) -> bool {
        !matches!(self.state, State::Head)
    }

    /// Tells whether it is an answer, and no stream, that ends with the connection.
    pub(crate) fn ends_with_the_connection(&self) -> bool {
        matches!(&self.state, State::Whole { reader, .. } if reader.is_done_at_the_end())
    }

    pub(crate) fn exchange(&self) -> u64 {
        self.exchange
    }

    /// Tells whether the answer is at its end, and if so whether the connection is, too.
    pub(crate) fn done(&self) -> Option<bool> {
        match self.state {
            State::Done { closes } => Some(closes),
            _ => None,
        }
    }

    /// Tells whether it is a WebSocket from here on.
    pub(crate) fn is_frames(&self) -> bool {
        matches!(self.state, State::Frames { .. })
    }

    /// Tells whether it is another protocol from here on whose bytes are not read.
    pub(crate) fn is_unreadable(&self) -> bool {
        matches!(self.state, State::Frames { reader: None })
    }

    /// Takes bytes of the host. `rewrite` changes the head that goes on, not the one that is written.
    ///
    /// # Errors
    /// [`NotHttp`]; all that came is passed on by [`AnswerFlow::end`].
    pub(crate) fn take(
        &mut self,
        at: Duration,
        bytes: &[u8],
        rewrite: impl Fn(&AnswerHead) -> Option<Bytes>,
    ) -> Result<Step, NotHttp> {
        self.pieces.push(Piece {
            after_seconds: at.saturating_sub(self.asked),
            bytes: bytes.len() as u64,
        });
        let room = (self.max_body + head::MAX_HEAD_BYTES).saturating_sub(self.raw.len());
        self.raw.extend_from_slice(&bytes[..bytes.len().min(room)]);
        self.pending.extend_from_slice(bytes);
        let mut step = Step::default();
        let mut forward = BytesMut::new();
        if matches!(self.state, State::Head) {
            while let Some((head, length)) = head::answer(&self.pending)? {
                let as_sent = self.pending.split_to(length);
                // Interim answers (RFC 9110 section 15.2) come before the one that counts.
                if (100..200).contains(&head.status) && head.status != 101 {
                    forward.extend_from_slice(&as_sent);
                    continue;
                }
                forward.extend_from_slice(&rewrite(&head).unwrap_or_else(|| as_sent.freeze()));
                self.begin(at, head, &mut step.lines)?;
                break;
            }
            if matches!(self.state, State::Head) {
                step.forward = forward.freeze();
                return Ok(step);
            }
        }
        forward.extend_from_slice(&self.follow(at, &mut step.lines)?);
        step.forward = forward.freeze();
        Ok(step)
    }

    fn begin(
        &mut self,
        at: Duration,
        head: AnswerHead,
        lines: &mut Vec<Line>,
    ) -> Result<(), NotHttp> {
        let (framing, length) = head.framing(&self.method)?;
        let kind = match stream_kind(&head) {
            Some(kind) if framing != Framing::None || head.status == 101 => kind,
            _ => {
                let reader = ContentReader::new(framing, length, self.max_body);
                self.state = State::Whole { head, reader };
                return Ok(());
            }
        };
        lines.push(Line::StreamBegun {
            at_seconds: at,
            exchange: self.exchange,
            status: head.status,
            reason: head.reason.clone(),
            http_version: head.version,
            fields: head.fields.clone(),
            framing: if kind == StreamKind::Frames {
                Framing::Close
            } else {
                framing
            },
            stream: kind,
        });
        self.state = match kind {
            StreamKind::Frames => {
                let is_readable = !self.is_captured || is_plain_websocket(&head);
                State::Frames {
                    reader: is_readable.then(|| MessageReader::new(Sender::Host, self.max_body)),
                }
            }
            _ => State::Stream {
                kind,
                reader: ContentReader::new(framing, length, usize::MAX),
                rest: Vec::new(),
                closes: head.closes(),
            },
        };
        Ok(())
    }

    /// Follows the content and gives the bytes that go on.
    fn follow(&mut self, at: Duration, lines: &mut Vec<Line>) -> Result<Bytes, NotHttp> {
        let exchange = self.exchange;
        match &mut self.state {
            State::Whole { head, reader } => {
                let taken = reader.take(&self.pending)?;
                let is_done = reader.is_done();
                let closes = head.closes();
                let beyond = self.pending.len() - taken;
                // A line between chunks that is not whole goes on all the same once it is.
                let forward = self.pending.split_to(taken).freeze();
                if is_done {
                    self.give_back(beyond);
                    lines.extend(self.whole_line(at, End::Complete));
                    self.state = State::Done { closes };
                }
                Ok(forward)
            }
            State::Stream {
                kind,
                reader,
                rest,
                closes,
            } => {
                let taken = reader.take(&self.pending)?;
                rest.extend(reader.drain());
                let forward = self.pending.split_to(taken).freeze();
                while let Some(length) = event_length(*kind, rest) {
                    let event: Vec<u8> = rest.drain(..length).collect();
                    lines.push(Line::Pushed {
                        at_seconds: at,
                        exchange,
                        body: Bytes::from(event).into(),
                    });
                }
                if reader.is_done() {
                    let closes = *closes;
                    lines.extend(self.stream_end(at, End::Complete));
                    self.state = State::Done { closes };
                }
                Ok(forward)
            }
            State::Frames { reader: None } => Ok(self.pending.split().freeze()),
            State::Frames {
                reader: Some(reader),
            } => {
                let mut forward = BytesMut::new();
                while let Some((length, frame)) = reader.take(&self.pending)? {
                    forward.extend_from_slice(&self.pending.split_to(length));
                    lines.extend(frame.map(|frame| Line::Frame {
                        at_seconds: at,
                        exchange,
                        frame,
                    }));
                }
                Ok(forward.freeze())
            }
            State::Head | State::Done { .. } => Ok(Bytes::new()),
        }
    }

    /// Counts bytes past the answer's end not to it. They are of the last piece: it is the one in which
    /// the end came.
    fn give_back(&mut self, beyond: usize) {
        if !self.is_captured {
            return;
        }
        if let Some(last) = self.pieces.last_mut() {
            last.bytes = last.bytes.saturating_sub(beyond as u64);
        }
        let own: u64 = self.pieces.iter().map(|piece| piece.bytes).sum();
        self.raw
            .truncate(usize::try_from(own).unwrap_or(usize::MAX));
    }

    /// Takes the end of the connection, or of the recording. Gives what is written, and the bytes that
    /// were held back.
    pub(crate) fn end(&mut self, at: Duration, end: End) -> Step {
        let held = self.pending.split().freeze();
        let closed = matches!(end, End::Closed);
        let lines = match &self.state {
            State::Done { .. } => Vec::new(),
            State::Head => vec![Line::NoAnswer {
                at_seconds: at,
                exchange: self.exchange,
                end,
                received: Body::from(Bytes::copy_from_slice(&self.raw)),
            }],
            State::Whole { reader, .. } => {
                let is_whole = closed && reader.is_done_at_the_end();
                self.whole_line(at, if is_whole { End::Complete } else { end })
                    .into_iter()
                    .collect()
            }
            State::Stream { reader, .. } => {
                let is_whole = closed && reader.is_done_at_the_end();
                self.stream_end(at, if is_whole { End::Complete } else { end })
            }
            State::Frames { .. } => self.stream_end(at, end),
        };
        self.state = State::Done { closes: true };
        Step {
            lines,
            forward: held,
        }
    }

    fn stream_end(&mut self, at: Duration, end: End) -> Vec<Line> {
        let exchange = self.exchange;
        let mut lines = Vec::new();
        if let State::Stream { rest, .. } = &mut self.state
            && !rest.is_empty()
        {
            let body = Bytes::from(std::mem::take(rest)).into();
            lines.push(Line::Pushed {
                at_seconds: at,
                exchange,
                body,
            });
        }
        lines.push(Line::StreamEnded {
            at_seconds: at,
            exchange,
            end,
        });
        lines
    }

    fn whole_line(&self, at: Duration, end: End) -> Option<Line> {
        let State::Whole { head, reader } = &self.state else {
            return None;
        };
        let is_kept = reader.length() <= self.max_body as u64;
        let body = match is_kept {
            true => Body::from(Bytes::copy_from_slice(reader.content())),
            false => Body::Withheld(Withheld {
                bytes: reader.length(),
                reason: format!("longer than {} bytes", self.max_body),
            }),
        };
        let mut answer = Answer {
            status: head.status,
            reason: head.reason.clone(),
            version: head.version,
            fields: head.fields.clone(),
            framing: reader.framing(),
            content: Content::Whole {
                body,
                chunks: reader.chunks().to_vec(),
                pieces: self.pieces.clone(),
                raw: None,
            },
            ended: Some((at, end)),
        };
        if is_kept
            && answer.bytes() != self.raw
            && let Content::Whole { raw, .. } = &mut answer.content
        {
            *raw = Some(Body::from(Bytes::copy_from_slice(&self.raw)));
        }
        let mut lines = Vec::with_capacity(1);
        answer.write(self.exchange, &mut lines);
        lines.pop()
    }
}

fn event_length(kind: StreamKind, rest: &[u8]) -> Option<usize> {
    match kind {
        StreamKind::Events => first_event(rest),
        _ => (!rest.is_empty()).then_some(rest.len()),
    }
}

/// Tells whether what follows are frames as RFC 6455 has them, and no extension has packed them
/// (section 9.1).
fn is_plain_websocket(head: &AnswerHead) -> bool {
    let extensions = head::field(&head.fields, "sec-websocket-extensions").unwrap_or_default();
    head::has_word(&head.fields, "upgrade", "websocket") && extensions.trim().is_empty()
}

/// Says what an answer without an end of its own pushes.
fn stream_kind(head: &AnswerHead) -> Option<StreamKind> {
    if head.status == 101 {
        return Some(StreamKind::Frames);
    }
    let media = head::field(&head.fields, "content-type")?
        .split(';')
        .next()?
        .trim()
        .to_ascii_lowercase();
    match &media[..] {
        "text/event-stream" => Some(StreamKind::Events),
        "multipart/x-mixed-replace" => Some(StreamKind::Bytes),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_apart_is_told_apart_and_goes_on_at_once() {
        let mut flow = AnswerFlow::new(1, "GET", Duration::from_secs(10), 100);
        let head = b"HTTP/1.1 200 OK\r\nContent-Length: 4\r\n\r\n{";
        let step = flow.take(Duration::from_secs(11), head, |_| None).unwrap();
        assert_eq!((step.lines.len(), &step.forward[..]), (0, &head[..]));
        let step = flow
            .take(Duration::from_secs(13), b" 1}", |_| None)
            .unwrap();
        assert_eq!(step.forward, " 1}");
        let [
            Line::Answer {
                pieces, body, end, ..
            },
        ] = &step.lines[..]
        else {
            panic!("{:?}", step.lines);
        };
        let told: Vec<(u64, u64)> = pieces
            .iter()
            .map(|piece| (piece.after_seconds.as_secs(), piece.bytes))
            .collect();
        assert_eq!(told, [(1, head.len() as u64), (3, 3)]);
        assert_eq!((body.text(), *end), (Some("{ 1}"), End::Complete));
        assert_eq!(flow.done(), Some(false));
    }

    #[test]
    fn the_end_of_an_answer_waits_for_its_line_however_it_is_split() {
        let whole = b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n";
        for split in 1..whole.len() {
            let mut flow = AnswerFlow::new(1, "GET", Duration::ZERO, 100);
            let first = flow
                .take(Duration::ZERO, &whole[..split], |_| None)
                .unwrap();
            let second = flow
                .take(Duration::ZERO, &whole[split..], |_| None)
                .unwrap();
            assert_eq!((first.lines.len(), second.lines.len()), (0, 1), "{split}");
            assert_eq!([first.forward, second.forward].concat(), whole, "{split}");
        }
    }
}
