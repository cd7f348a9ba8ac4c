//! One connection of the watcher, and the one to the host behind it.

use std::io;
use std::sync::Arc;
use std::time::Duration;

use bytes::{Bytes, BytesMut};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio_util::sync::CancellationToken;

use super::recorder::Shared;
use super::request::{for_host, for_watcher, refusal, refused};
use super::upstream;
use crate::answer_flow::{AnswerFlow, Step};
use crate::format::{Body, ClosedBy, End, Line, Sender};
use crate::http::content::ContentReader;
use crate::http::head::{self, RequestHead};
use crate::http::websocket::MessageReader;
use crate::stream::Stream;

/// Is how a connection ended: by whom, and whether by a reset.
type Ended = (ClosedBy, bool);

/// Serves a connection to its end.
pub(super) async fn relay(shared: Arc<Shared>, number: u64, tls: bool, watcher: Stream) {
    let opened = Line::ConnectionOpened {
        at_seconds: shared.journal.now(),
        connection: number,
        tls,
    };
    if shared.write(opened).is_err() {
        return;
    }
    let mut relay = Relay {
        stop: shared.stop.clone(),
        shared,
        number,
        watcher,
        host: None,
        from_watcher: BytesMut::new(),
    };
    let (by, reset) = relay.serve().await;
    if reset {
        relay.watcher.reset();
    }
    let closed = Line::ConnectionClosed {
        at_seconds: relay.shared.journal.now(),
        connection: number,
        by,
        reset,
    };
    // Why nothing is written any more is told by who started it all.
    let _ = relay.shared.write(closed);
    if !reset {
        let _ = relay.watcher.shutdown().await;
    }
}

struct Relay {
    shared: Arc<Shared>,
    stop: CancellationToken,
    number: u64,
    watcher: Stream,
    host: Option<Stream>,
    /// What the watcher has sent and nobody has taken.
    from_watcher: BytesMut,
}

/// Is a request with what the wire had of it.
struct Asked {
    head: RequestHead,
    /// The content as it came, framing included.
    raw: Bytes,
    content: Bytes,
}

impl Relay {
    async fn serve(&mut self) -> Ended {
        loop {
            let asked = match self.request().await {
                Ok(asked) => asked,
                Err(ended) => return ended,
            };
            match self.exchange(asked).await {
                Ok(()) => {}
                Err(ended) => return ended,
            }
        }
    }

    /// Waits for the next request.
    async fn request(&mut self) -> Result<Asked, Ended> {
        let recorder = (ClosedBy::Recorder, false);
        let head = loop {
            match head::request(&self.from_watcher) {
                Ok(Some((head, length))) => {
                    let _head = self.from_watcher.split_to(length);
                    break head;
                }
                Ok(None) => self.more_of_watcher().await?,
                Err(not_http) => {
                    self.shared
                        .tell(&format!("connection {}: {not_http}; closed", self.number));
                    return Err(recorder);
                }
            }
        };
        let Ok((framing, length)) = head.framing() else {
            return Err(recorder);
        };
        if head::has_word(&head.fields, "expect", "100-continue") {
            self.give_watcher(b"HTTP/1.1 100 Continue\r\n\r\n").await?;
        }
        let limit = self.shared.limits.max_body_bytes;
        let mut reader = ContentReader::new(framing, length, limit);
        let mut raw = BytesMut::new();
        loop {
            let taken = reader.take(&self.from_watcher).map_err(|_| recorder)?;
            raw.extend_from_slice(&self.from_watcher.split_to(taken));
            if reader.is_done() {
                break;
            }
            if raw.len() > limit {
                self.shared.tell(&format!(
                    "connection {}: a request of more than {limit} bytes; closed",
                    self.number
                ));
                return Err(recorder);
            }
            self.more_of_watcher().await?;
        }
        let content = Bytes::from(reader.drain());
        Ok(Asked {
            head,
            raw: raw.freeze(),
            content,
        })
    }

    /// Reads more of the watcher while nothing is asked. The host may close the idle connection.
    async fn more_of_watcher(&mut self) -> Result<(), Ended> {
        let mut unasked = [0; 1];
        let host = async {
            match &mut self.host {
                Some(host) => host.read(&mut unasked).await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            biased;
            () = self.stop.cancelled() => Err((ClosedBy::Recorder, false)),
            read = self.watcher.read_buf(&mut self.from_watcher) => match read {
                Ok(0) => Err((ClosedBy::Watcher, false)),
                Ok(_) => Ok(()),
                Err(error) => Err((ClosedBy::Watcher, is_reset(&error))),
            },
            // What a host says unasked is no answer to anything; the connection is of no use then.
            read = host => Err((ClosedBy::Host, read.is_err_and(|error| is_reset(&error)))),
        }
    }

    /// Sees one request to its answer's end.
    async fn exchange(&mut self, asked: Asked) -> Result<(), Ended> {
        let journal = &self.shared.journal;
        let (exchange, at) = (self.shared.next_exchange(), journal.now());
        let head = &asked.head;
        self.write(Line::Request {
            at_seconds: at,
            connection: self.number,
            exchange,
            method: head.method.clone(),
            target: head.target.clone(),
            http_version: head.version,
            fields: head.fields.clone(),
            body: Body::from(asked.content.clone()),
        })?;
        if let Some(why) = refusal(head, self.shared.allows_commands) {
            self.no_answer(exchange, End::NotPassedOn)?;
            self.shared.tell(&format!(
                "{} {} was not passed on: {why}",
                head.method, head.target
            ));
            self.give_watcher(&refused(head, why)).await?;
            return Err((ClosedBy::Recorder, false));
        }
        if self.host.is_none() {
            let connecting =
                upstream::connect(&self.shared.upstream, self.shared.limits.connect_timeout);
            let connected = tokio::select! {
                connected = connecting => connected,
                () = self.stop.cancelled() => Err((End::RecordingStopped, String::new())),
            };
            match connected {
                Ok(host) => self.host = Some(host),
                Err((end, why)) => {
                    self.no_answer(exchange, end)?;
                    if !why.is_empty() {
                        self.shared
                            .tell(&format!("{}: {why}", self.shared.upstream));
                    }
                    return Err((ClosedBy::Host, matches!(end, End::Refused | End::Reset)));
                }
            }
        }
        let flow = AnswerFlow::new(
            exchange,
            &head.method,
            at,
            self.shared.limits.max_body_bytes,
        );
        self.pass_on(flow, &asked).await
    }

    /// Asks the host and passes the answer on.
    async fn pass_on(&mut self, mut flow: AnswerFlow, asked: &Asked) -> Result<(), Ended> {
        let mut request = BytesMut::from(for_host(&asked.head, &self.shared.upstream));
        request.extend_from_slice(&asked.raw);
        let sent = match &mut self.host {
            Some(host) => host.write_all(&request).await,
            None => Ok(()),
        };
        if let Err(error) = sent {
            return self.ended_by_host(&mut flow, &error).await;
        }
        let closes_after = head::has_word(&asked.head.fields, "connection", "close");
        let exchange = flow.exchange();
        let mut said = MessageReader::new(Sender::Watcher, self.shared.limits.max_body_bytes);
        let mut from_host = BytesMut::with_capacity(16 << 10);
        loop {
            if let Some(closes) = flow.done() {
                return match closes || closes_after {
                    true => Err((ClosedBy::Host, false)),
                    false => Ok(()),
                };
            }
            from_host.clear();
            let Some(host) = &mut self.host else {
                return Err((ClosedBy::Host, false));
            };
            tokio::select! {
                biased;
                () = self.stop.cancelled() => {
                    return self.finish(&mut flow, End::RecordingStopped, (ClosedBy::Recorder, false)).await;
                }
                read = host.read_buf(&mut from_host) => match read {
                    Ok(0) => return self.closed_by_host(&mut flow).await,
                    Ok(_) => self.came(&mut flow, &from_host).await?,
                    Err(error) => return self.ended_by_host(&mut flow, &error).await,
                },
                read = self.watcher.read_buf(&mut self.from_watcher) => match read {
                    Ok(0) => return self.finish(&mut flow, End::WatcherLeft, (ClosedBy::Watcher, false)).await,
                    Err(error) => {
                        let ended = (ClosedBy::Watcher, is_reset(&error));
                        return self.finish(&mut flow, End::WatcherLeft, ended).await;
                    }
                    Ok(_) if flow.is_frames() => self.frames_of_watcher(exchange, &mut said).await?,
                    // Asked before the answer is here: it waits its turn.
                    Ok(_) => {}
                },
            }
        }
    }

    /// Takes bytes of the host.
    async fn came(&mut self, flow: &mut AnswerFlow, bytes: &[u8]) -> Result<(), Ended> {
        let at = self.shared.journal.now();
        let shared = Arc::clone(&self.shared);
        let step = flow.take(at, bytes, |head| {
            for_watcher(head, &shared.upstream, &shared.own_origin)
        });
        match step {
            Ok(step) => self.carry_out(step).await,
            Err(not_http) => {
                self.shared.tell(&format!(
                    "{}: {not_http}; passed on as it is",
                    self.shared.upstream
                ));
                let ended = (ClosedBy::Host, false);
                self.finish(flow, End::NotHttp, ended).await
            }
        }
    }

    async fn closed_by_host(&mut self, flow: &mut AnswerFlow) -> Result<(), Ended> {
        self.finish(flow, End::Closed, (ClosedBy::Host, false))
            .await
    }

    async fn ended_by_host(
        &mut self,
        flow: &mut AnswerFlow,
        error: &io::Error,
    ) -> Result<(), Ended> {
        let reset = is_reset(error);
        let end = if reset { End::Reset } else { End::Closed };
        self.finish(flow, end, (ClosedBy::Host, reset)).await
    }

    /// Ends an answer that does not end by itself. What was held back goes on, then the connection is over.
    async fn finish(&mut self, flow: &mut AnswerFlow, end: End, ended: Ended) -> Result<(), Ended> {
        let step = flow.end(self.shared.journal.now(), end);
        if ended.1 {
            // A reset throws away what the watcher has not read yet: it gets the time to.
            self.carry_out(step).await?;
            tokio::time::sleep(READ_BEFORE_RESET).await;
            return Err(ended);
        }
        self.carry_out(step).await?;
        Err(ended)
    }

    /// Passes on what the watcher says on a WebSocket.
    async fn frames_of_watcher(
        &mut self,
        exchange: u64,
        said: &mut MessageReader,
    ) -> Result<(), Ended> {
        let mut forward = BytesMut::new();
        loop {
            match said.take(&self.from_watcher) {
                Ok(Some((length, frame))) => {
                    if let Some(frame) = frame {
                        self.write(Line::Frame {
                            at_seconds: self.shared.journal.now(),
                            exchange,
                            frame,
                        })?;
                    }
                    forward.extend_from_slice(&self.from_watcher.split_to(length));
                }
                Ok(None) => break,
                Err(_not_a_frame) => {
                    forward.extend_from_slice(&self.from_watcher.split());
                    break;
                }
            }
        }
        if let Some(host) = &mut self.host {
            // A host that is gone shows at the next read.
            let _ = host.write_all(&forward).await;
        }
        Ok(())
    }

    async fn carry_out(&mut self, step: Step) -> Result<(), Ended> {
        for line in step.lines {
            self.write(line)?;
        }
        self.give_watcher(&step.forward).await
    }

    fn no_answer(&self, exchange: u64, end: End) -> Result<(), Ended> {
        let at_seconds = self.shared.journal.now();
        self.write(Line::NoAnswer {
            at_seconds,
            exchange,
            end,
            received: Body::default(),
        })
    }

    fn write(&self, line: Line) -> Result<(), Ended> {
        self.shared
            .write(line)
            .map_err(|_stopped| (ClosedBy::Recorder, false))
    }

    async fn give_watcher(&mut self, bytes: &[u8]) -> Result<(), Ended> {
        if bytes.is_empty() {
            return Ok(());
        }
        let written = async {
            self.watcher.write_all(bytes).await?;
            self.watcher.flush().await
        };
        written
            .await
            .map_err(|error| (ClosedBy::Watcher, is_reset(&error)))
    }
}

/// How long a watcher has to read what came before a reset (own choice: loopback and a home network
/// take milliseconds).
const READ_BEFORE_RESET: Duration = Duration::from_millis(20);

fn is_reset(error: &io::Error) -> bool {
    error.kind() == io::ErrorKind::ConnectionReset
}
