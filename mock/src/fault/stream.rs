//! The stream that carries out what happens to the bytes of answers.

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll, ready};
use std::time::Duration;

use bytes::{Buf as _, Bytes};
use socket2::SockRef;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::time::Sleep;

use super::answer_bytes::{Act, AnswerBytes};
use super::control::{News, StreamControl};
use super::script::{Ending, Script};
use super::shared_tcp::{SharedTcp, end_of_sending};

/// Is a stream over one TCP connection, and over nothing else.
pub trait OverTcp {
    /// Gives the connection.
    fn tcp(&self) -> &TcpStream;
}

impl OverTcp for SharedTcp {
    fn tcp(&self) -> &TcpStream {
        &self.0
    }
}

/// Is a connection with the faults of its bytes: those that HTTP sees, whatever they are wrapped in
/// below.
#[derive(Debug)]
pub struct FaultyStream<S: OverTcp> {
    stream: S,
    control: Arc<StreamControl>,
    /// The answer under way, if something happens to it.
    answer: Option<AnswerBytes>,
    /// Bytes of it that are on their way out, and until when they wait.
    pending: Bytes,
    wait: Option<Pin<Box<Sleep>>>,
    /// How the connection ends once they are out.
    ending: Option<Ending>,
}

impl<S: OverTcp> FaultyStream<S> {
    /// Puts a stream under what its owner says.
    pub fn new(stream: S, control: Arc<StreamControl>) -> Self {
        Self {
            stream,
            control,
            answer: None,
            pending: Bytes::new(),
            wait: None,
            ending: None,
        }
    }
}

impl<S: OverTcp> Drop for FaultyStream<S> {
    /// Makes the closing a reset where that was asked for.
    ///
    /// With a linger time of zero the kernel drops what is unsent and sends RST (POSIX `SO_LINGER`;
    /// RFC 9293 section 3.10.5, ABORT). Nothing above TCP says farewell then.
    fn drop(&mut self) {
        if self.control.is_reset() {
            // Fails only for a connection that is gone already, and then there is nothing to reset.
            let _ = SockRef::from(self.stream.tcp()).set_linger(Some(Duration::ZERO));
        }
    }
}

impl<S: OverTcp + AsyncRead + AsyncWrite + Unpin> FaultyStream<S> {
    /// Looks whether another answer begins, or something else is to happen to the one under way.
    fn hear_news(&mut self) {
        let is_free =
            self.answer.as_ref().is_none_or(AnswerBytes::is_done) && self.pending.is_empty();
        match self.control.news(is_free) {
            Some(News::Begins(answer)) => {
                self.answer = Some(answer);
                self.hear_changes();
            }
            Some(News::Changed(script)) => self.change(script),
            None if is_free => self.answer = None,
            None => {}
        }
    }

    /// Looks whether something else is to happen to the answer under way, also to those bytes of it
    /// that wait already.
    fn hear_changes(&mut self) {
        if let Some(News::Changed(script)) = self.control.news(false) {
            self.change(script);
        }
    }

    fn change(&mut self, script: Script) {
        if let Some(answer) = &mut self.answer {
            if answer.pace() != script.pace {
                self.wait = None;
            }
            answer.set_script(script);
        }
    }

    /// Sends what is on its way, at its pace, and ends the connection where that is to come.
    fn poll_drive(&mut self, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        self.hear_changes();
        loop {
            if let Some(wait) = &mut self.wait {
                ready!(wait.as_mut().poll(cx));
                self.wait = None;
            }
            if self.pending.is_empty() {
                if let Some(ending) = self.ending {
                    return self.poll_end(ending, cx);
                }
                match self.answer.as_mut().and_then(AnswerBytes::next_act) {
                    Some(Act::Send(bytes)) => self.pending = bytes,
                    Some(Act::End(ending)) => self.ending = Some(ending),
                    None => return Poll::Ready(Ok(())),
                }
                continue;
            }
            let pace = self
                .answer
                .as_ref()
                .map(AnswerBytes::pace)
                .unwrap_or_default();
            let (count, gap) = pace.next(self.pending.len());
            let stream = Pin::new(&mut self.stream);
            let written = ready!(stream.poll_write(cx, &self.pending[..count]))?;
            self.pending.advance(written);
            self.control.count_sent(written);
            if pace.is_paced() {
                ready!(Pin::new(&mut self.stream).poll_flush(cx))?;
                if !gap.is_zero() {
                    self.wait = Some(Box::pin(tokio::time::sleep(gap)));
                }
            }
        }
    }

    fn poll_end(&mut self, ending: Ending, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        ready!(Pin::new(&mut self.stream).poll_flush(cx))?;
        match ending {
            Ending::Reset => {
                self.control.reset_on_close();
                Poll::Ready(Err(io::ErrorKind::ConnectionReset.into()))
            }
            Ending::Close => {
                ready!(self.poll_farewell(cx))?;
                Poll::Ready(Err(io::ErrorKind::BrokenPipe.into()))
            }
            // Until the client leaves, so that no task stays for ever.
            Ending::Stall => {
                self.control.stalls();
                let mut scratch = [0; 256];
                loop {
                    let mut buffer = ReadBuf::new(&mut scratch);
                    ready!(Pin::new(&mut self.stream).poll_read(cx, &mut buffer))?;
                    if buffer.filled().is_empty() {
                        return Poll::Ready(Err(io::ErrorKind::BrokenPipe.into()));
                    }
                }
            }
        }
    }

    fn poll_farewell(&mut self, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        if self.control.closes_without_notify() {
            return Poll::Ready(end_of_sending(self.stream.tcp()));
        }
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

impl<S: OverTcp + AsyncRead + AsyncWrite + Unpin> AsyncRead for FaultyStream<S> {
    fn poll_read(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        if this.ending == Some(Ending::Stall) {
            // What comes in is read where the standing still is.
            return Poll::Pending;
        }
        let before = buffer.filled().len();
        ready!(Pin::new(&mut this.stream).poll_read(cx, buffer))?;
        if buffer.filled().len() > before {
            this.control.bytes_came();
        }
        Poll::Ready(Ok(()))
    }
}

impl<S: OverTcp + AsyncRead + AsyncWrite + Unpin> AsyncWrite for FaultyStream<S> {
    fn poll_write(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let this = self.get_mut();
        if bytes.is_empty() || !this.control.is_answering() {
            return Pin::new(&mut this.stream).poll_write(cx, bytes);
        }
        ready!(this.poll_drive(cx))?;
        this.hear_news();
        let Some(answer) = &mut this.answer else {
            let written = ready!(Pin::new(&mut this.stream).poll_write(cx, bytes))?;
            this.control.count_sent(written);
            return Poll::Ready(Ok(written));
        };
        let taken = answer.feed(bytes);
        let (_, body) = answer.sent();
        this.control.note_body(body);
        // What does not go out now does with the next write or flush.
        match this.poll_drive(cx) {
            Poll::Ready(Err(error)) => Poll::Ready(Err(error)),
            Poll::Ready(Ok(())) | Poll::Pending => Poll::Ready(Ok(taken)),
        }
    }

    fn poll_flush(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        ready!(this.poll_drive(cx))?;
        ready!(Pin::new(&mut this.stream).poll_flush(cx))?;
        this.control.all_sent();
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        if this.control.is_reset() {
            // A FIN, or a farewell of TLS, before the RST would look like an orderly end.
            return Poll::Ready(Ok(()));
        }
        if let Some(answer) = &mut this.answer {
            answer.closes();
        }
        ready!(this.poll_drive(cx))?;
        this.poll_farewell(cx)
    }
}
